"""What disagrees, in one sentence for the eye and at most twelve words for the ear."""

from collections.abc import Mapping, Sequence
from typing import Any

GRAVEST = ("impossible", "disputed", "off-chart", "part-way", "unshown", "claimed", "seen")
NEXT = {
    "impossible": "Look at the rotor itself, then take another photo.",
    "disputed": "Look again: say it once more, or take another photo.",
    "off-chart": "Put the setting right, then say travel and contacts again and take a photo.",
    "part-way": "Move on until the rotor has snapped over, then say travel again and take a photo.",
    "unshown": "Say the contact, and take a photo that shows it.",
    "claimed": "Take a photo that shows it.",
    "seen": "Say the contact as you find it.",
}
Row = Mapping[str, Any]


def gravest_first(findings: Sequence[Row], judged: Sequence[str]) -> list[Row]:
    """Return the findings of judged contacts that are not agreed: the gravest first, then as in the chart."""
    left = [
        one for one in findings if one["label"] in judged and (one["verdict"] != "agreed" or one["denied"])
    ]
    return sorted(
        left, key=lambda one: GRAVEST.index(one["verdict"]) if one["verdict"] in GRAVEST else len(GRAVEST)
    )


def disagreement(findings: Sequence[Row], judged: Sequence[str]) -> dict[str, str] | None:
    """Return the sentence of what disagrees, what to do next and what to say aloud; None where nothing does.

    Examples
    --------
    >>> row = {"label": "9", "claim": "open", "reading": "closed", "expected": "open", "verdict": "disputed",
    ...        "denied": None}
    >>> disagreement([row], ["9"])["says"]
    'Contact 9, disputed: said open, the photo shows closed, the chart wants open.'

    """
    left = gravest_first(findings, judged)
    if not left:
        return None
    first = left[0]
    more = f" {len(left) - 1} more below." if len(left) > 1 else ""
    return {
        "says": f"Contact {first['label']}, {first['verdict']}: {said(first)}, {seen(first)}, "
        f"the chart wants {first['expected']}.{more}",
        "next": NEXT.get(first["verdict"], "Look again."),
        "speak": f"{first['label']}: {said(first, aloud=True)}. {seen(first).capitalize()}.",
    }


def said(finding: Row, *, aloud: bool = False) -> str:
    """Return what was said of a contact."""
    who = "you said" if aloud else "said"
    if finding["denied"]:
        return f"{who} not {finding['denied']}"
    return f"{who} {finding['claim']}" if finding["claim"] != "none" else "nothing said"


def seen(finding: Row) -> str:
    """Return what the photo shows of a contact."""
    shown = {
        "none": "the photo does not show it",
        "between": "the photo shows it between",
        "impossible": "the photo shows an impossible rotor",
    }
    return shown.get(finding["reading"], f"the photo shows {finding['reading']}")


def probability(value: float | None) -> str:
    """Return how sure the reading alone is, in percent; what would round to 100 stays below it."""
    if value is None:
        return ""
    percent = min(100 * value, 99.9)
    return f"{percent:.1f} %" if percent > 99 else f"{percent:.0f} %"
