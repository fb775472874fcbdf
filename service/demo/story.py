"""The story that a demo plays, read from its YAML: acts in order, each with what must come of it."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from service.definitions.documents import read_document
from service.domain.refusals import BadDefinition

VERBS = (
    *("tell", "say", "tap", "photo", "findings", "release", "judge", "opinion", "meanwhile", "arrives"),
    *("marks", "stroke"),
)


@dataclass(frozen=True)
class Act:
    """One act: its verb, what the verb is given, its step, who does it, and the rest of its line."""

    verb: str
    what: Any
    step: str
    by: str
    more: Mapping[str, Any]

    @property
    def expect(self) -> str | None:
        """What must come of it, where that is not the plain good outcome."""
        return self.more.get("expect")


@dataclass(frozen=True)
class Story:
    """Which job is played, by whom on which devices, and the acts in order.

    `people` maps who the acts name to (sign-in name in the job file, device); `faults` names what is caught on
    the way, in the story's order.
    """

    title: str
    folder: Path
    job: str
    people: Mapping[str, tuple[str, str]]
    acts: Sequence[Act]
    faults: tuple[str, ...]

    def without(self, fault: str | None) -> "Story":
        """Return the story with the right input in the place of a fault; raises BadDefinition for another."""
        if fault is not None and fault not in self.faults:
            known = ", ".join(self.faults)
            raise BadDefinition(f"The story has no fault {fault}.", hint=f"It has: {known}.")
        kept = [
            act
            for act in self.acts
            if (act.more.get("fault") is None or act.more["fault"] != fault)
            and (act.more.get("instead_of") is None or act.more["instead_of"] == fault)
        ]
        return replace(self, acts=kept)


def load_story(path: Path) -> Story:
    """Read a story; raises BadDefinition for an act that no verb fits."""
    document = read_document(path.read_bytes(), "story")
    acts = list(_acts(document["acts"], document.get("blocks", {}), {}))
    people = {who: (one["person"], one["device"]) for who, one in document["people"].items()}
    faults = tuple(dict.fromkeys(act.more["fault"] for act in acts if "fault" in act.more))
    return Story(document["title"], path.parent, document["job"], people, acts, faults)


def _acts(lines: Sequence[Any], blocks: Mapping[str, Any], marks: Mapping[str, Any]) -> Iterator[Act]:
    """Yield the acts of a list, of the blocks that it names, and of groups that carry a mark such as `fault`."""
    for line in lines:
        if "block" in line:
            yield from _acts(blocks[line["block"]], blocks, marks)
        elif "acts" in line:
            group = {key: value for key, value in line.items() if key != "acts"}
            yield from _acts(line["acts"], blocks, {**marks, **group})
        else:
            yield _act({**marks, **line})


def _act(line: Mapping[str, Any]) -> Act:
    verbs = [verb for verb in VERBS if verb in line]
    if len(verbs) != 1:
        raise BadDefinition(f"An act needs exactly one of {', '.join(VERBS)}: {dict(line)}.", field="acts")
    rest = {key: value for key, value in line.items() if key not in {verbs[0], "step", "by"}}
    by = line.get("by", "verifier" if verbs[0] in {"judge", "opinion"} else "technician")
    return Act(verbs[0], line[verbs[0]], line.get("step", ""), by, rest)
