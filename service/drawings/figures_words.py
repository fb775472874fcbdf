"""Repeated trips, drift and paired looks in words."""

from collections.abc import Iterable, Mapping
from typing import Any

LOCAL_RULES = "Figures from what was counted and stated. Local rules and the site's tolerances come first."


def repeats_in_words(told: Iterable[Mapping[str, Any]]) -> str:
    """Return for each trip its figures and what they say."""
    rows = [LOCAL_RULES]
    for one in told:
        about = "" if one["mean_within"] is None else f" ± {one['mean_within']:.2g}"
        pct = (one["pct"] or {}).get("next_within")
        far = "" if pct is None else f" That is {pct:.2g} % of travel."
        mean = f"mean {one['mean']:.5g}{about} {one['unit']}"
        rows.append(f"{one['rotor']} towards {one['towards']}: {mean}. {one['sentence']}{far}")
    return "\n".join(rows)


def drift_in_words(told: Iterable[Mapping[str, Any]]) -> str:
    """Return for each rotor its drift, the days that matter, and what may cause it."""
    rows = [LOCAL_RULES]
    for one in told:
        inside = one["leaves_in_days"] != 0
        leaves = (
            ""
            if one["leaves_on"] is None or not inside
            else f" Leaves its tolerance about {one['leaves_on']}."
        )
        early = (
            ""
            if one["earliest_on"] is None or not inside
            else f" Within the doubt it may leave it from {one['earliest_on']} on."
        )
        rows.append(f"{one['rotor']}, {one['jobs']} jobs: {one['sentence']}{leaves}{early}")
    return "\n".join(rows)


def looks_in_words(told: Mapping[str, Any]) -> str:
    """Return what pairs of looks say, together, by step and by contact."""
    rows = [told["sentence"]]
    for name in ("step", "contact"):
        rows += [f"  {name} {one[name]}: {_share(one)}" for one in told[f"by_{name}"]]
    return "\n".join(rows)


def site_in_words(told: Mapping[str, Any]) -> str:
    """Return what the looks of a site's jobs say, for each two that are compared."""
    left = ", ".join(f"{count} {reason}" for reason, count in told["left_out"].items())
    rows = [f"Jobs that are handed back: {told['jobs']}" + (f"; left out: {left}" if left else "")]
    if told["opinions"]:
        said = ", ".join(f"{count} {opinion}" for opinion, count in told["opinions"].items())
        rows.append(f"Opinions after judging: {said}")
    for name, looks in told["compared"].items():
        rows += [f"{name}:", *(f"  {row}" for row in looks_in_words(looks).splitlines())]
    return "\n".join(rows)


def _share(one: Mapping[str, Any]) -> str:
    words = f"{one['disagreed']} of {one['looks']} disagreed"
    return f"{words} ({100 * one['disagreed_low']:.1f} to {100 * one['disagreed_high']:.1f} %)"
