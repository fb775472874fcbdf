"""The story that a demo plays, read from its YAML: acts in order, each with what must come of it."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from service.definitions.documents import read_document
from service.domain.refusals import BadDefinition

VERBS = ("tell", "say", "photo", "findings", "release", "judge", "opinion")


@dataclass(frozen=True)
class Act:
    """One act: its verb, what the verb is given, its step, and the rest of its line."""

    verb: str
    what: Any
    step: str
    more: Mapping[str, Any]

    @property
    def expect(self) -> str | None:
        """What must come of it, where that is not the plain good outcome."""
        return self.more.get("expect")


@dataclass(frozen=True)
class Story:
    """Which job is played, by whom on which devices, and the acts in order."""

    title: str
    folder: Path
    job: str
    devices: Mapping[str, str]
    acts: Sequence[Act]


def load_story(path: Path) -> Story:
    """Read a story; raises BadDefinition for an act that no verb fits."""
    document = read_document(path.read_bytes(), "story")
    acts = [_act(number, line) for number, line in enumerate(document["acts"])]
    devices = {role: one["device"] for role, one in document["people"].items()}
    return Story(document["title"], path.parent, document["job"], devices, acts)


def _act(number: int, line: Mapping[str, Any]) -> Act:
    verbs = [verb for verb in VERBS if verb in line]
    if len(verbs) != 1:
        raise BadDefinition(f"An act needs exactly one of {', '.join(VERBS)}.", field=f"acts[{number}]")
    rest = {key: value for key, value in line.items() if key not in {verbs[0], "step"}}
    return Act(verbs[0], line[verbs[0]], line.get("step", ""), rest)
