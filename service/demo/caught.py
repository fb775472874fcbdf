"""What was caught on the way, told from a package's entries alone: each with the entry that shows it."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from service.domain.entries import Entry


@dataclass(frozen=True)
class Caught:
    """One fault: its name, the hash of the entry that shows it, and what was said or found there."""

    fault: str
    entry: str
    said: str

    def to_json(self) -> dict[str, str]:
        """Return it as it stands in the summary."""
        return {"fault": self.fault, "entry": self.entry, "said": self.said}


def caught_in(entries: Sequence[Entry]) -> list[Caught]:
    """Return every fault that the entries show, in the order of the entries; each kind once, at its first entry."""
    look = _Look(entries)
    found = [Caught(name, entry.hash, said) for name, find in FAULTS.items() for entry, said in find(look)]
    order = {entry.hash: entry.seq for entry in entries}
    first: dict[str, Caught] = {}
    for one in sorted(found, key=lambda one: order[one.entry]):
        first.setdefault(one.fault, one)
    return list(first.values())


class _Look:
    """The entries, with what belongs together found by identity."""

    def __init__(self, entries: Sequence[Entry]) -> None:
        self.entries = entries
        self._items = {entry.id: entry for entry in entries}
        self._hearings: dict[str, Mapping[str, Any]] = {
            entry.body["clip"]: entry.body["hearing"] for entry in self.of("clip_heard")
        }

    def of(self, kind: str) -> Iterator[Entry]:
        """Yield the entries of a kind whose payload is there."""
        return (entry for entry in self.entries if entry.kind == kind and entry.body)

    def step(self, item: str) -> str | None:
        """Return the step that an item was made for."""
        known = self._items.get(item)
        return known.body.get("step") if known else None

    def hearing(self, item: object) -> Mapping[str, Any]:
        """Return what was heard in a clip; empty where it is none."""
        return self._hearings.get(str(item), {})


Found = Iterator[tuple[Entry, str]]


def _denied_in_dead_proof(look: _Look) -> Found:
    for entry in look.of("clip_heard"):
        hearing = entry.body["hearing"]
        if look.step(entry.body["clip"]) == "prove_dead" and (hearing["slots"] or {}).get("negated"):
            yield entry, hearing["text"]


def _circuit_forgotten(look: _Look) -> Found:
    """A refused release of the dead proof in which something other than a phase was not measured to earth."""
    for entry in look.of("release_refused"):
        missing = str(entry.body["reason"]).removeprefix("Still open: ").rstrip(".").split("; ")
        if entry.body["step"] == "prove_dead" and any(
            one.endswith(" to earth") and not one.startswith("line ") for one in missing
        ):
            yield entry, str(entry.body["reason"])


def _held_by(look: _Look, fits: Callable[[Mapping[str, Any]], bool]) -> Found:
    for entry in look.of("gate_held"):
        hearing = look.hearing(entry.body["because"])
        if hearing and fits(hearing):
            yield entry, f'"{hearing["text"]}": {entry.body["reason"]}'


def _gear_released(look: _Look) -> Found:
    return _held_by(look, lambda heard: heard["intent"] in {"gear", "wiggle_check", "other_end"})


def _wrong_direction(look: _Look) -> Found:
    return _held_by(
        look, lambda heard: heard["intent"] == "rotation" and heard["slots"].get("state") == "wrong_way"
    )


def _late(look: _Look) -> Found:
    for entry in look.of("gate_held"):
        heard = look.hearing(entry.body["because"])
        if entry.body["late"] and heard:
            yield entry, f'"{heard["text"]}": {entry.body["reason"]}'


def _off_chart(look: _Look) -> Found:
    for entry in look.of("finding_made"):
        body = entry.body
        if body["verdict"] == "off-chart":
            yield (
                entry,
                f"contact {body['label']}: said {body['claim']}, seen {body['reading']}, chart {body['expected']}",
            )


def _disagreed(look: _Look) -> Found:
    for entry in look.of("opinion_given"):
        if entry.body["opinion"] == "disagree":
            yield entry, str(entry.body["reason"])


def _retaken(look: _Look) -> Found:
    """A refused photo after which another was read at the same step."""
    read = {look.step(entry.body["photo"]) for entry in look.of("photo_read") if _verdict(entry) == "read"}
    for entry in look.of("photo_read"):
        if _verdict(entry) == "refused" and look.step(entry.body["photo"]) in read:
            yield entry, str(entry.body["reading"]["reason"])


def _verdict(entry: Entry) -> str:
    return str(entry.body["reading"]["verdict"])


FAULTS: Mapping[str, Callable[[_Look], Found]] = {
    "not_in_dead_proof": _denied_in_dead_proof,
    "foreign_circuit_forgotten": _circuit_forgotten,
    "gear_left_released": _gear_released,
    "rotor_wrongly_set": _off_chart,
    "wrong_direction_at_bump": _wrong_direction,
    "verifier_disagreed": _disagreed,
    "photo_retaken": _retaken,
    "late_clip_contradicts": _late,
}
"""Every fault that can be told from entries, with how it is found."""
