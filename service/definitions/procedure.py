"""Reads a procedure file: steps, what they need, and the events that send the job back; held to the safety order."""

from importlib import resources
from typing import Any

from service.definitions.documents import hold_to_schema, read_document
from service.domain.procedure import Checkpoint, Condition, Event, Limits, Procedure, Step
from service.domain.refusals import NotFound
from service.domain.safety_order import refuse_weaker
from service.domain.statements import Pattern, pattern_of

WHAT = "procedure"


def load_procedure(text: bytes) -> Procedure:
    """Return the procedure that a file describes.

    Parameters
    ----------
    text : bytes
        The procedure file, YAML or JSON.

    Raises
    ------
    BadDefinition
        The file cannot be used, or it removes, weakens or reorders a safety gate, which is named.

    """
    document = hold_to_schema(read_document(text, WHAT), "procedure", WHAT)
    procedure = Procedure(
        id=document["id"],
        title=document["title"],
        version=str(document["version"]),
        extent=document["extent"],
        steps=tuple(_step(entry) for entry in document["steps"]),
        events=tuple(_event(entry) for entry in document.get("events", [])),
        closing=document.get("closing", ""),
        seats={"closed": "limit", "open": "limit"} | document.get("seats", {}),
    )
    refuse_weaker(procedure)
    return procedure


def shipped_procedures() -> tuple[str, ...]:
    """Return the names of the procedures that ship with the program."""
    folder = resources.files("service.procedures")
    return tuple(
        sorted(file.name.removesuffix(".yaml") for file in folder.iterdir() if file.name.endswith(".yaml"))
    )


def shipped_procedure(name: str) -> bytes:
    """Return the file of a procedure that ships with the program; raises NotFound where there is none."""
    if name not in shipped_procedures():
        raise NotFound(f"No procedure {name} ships with the program.", field="procedure")
    return resources.files("service.procedures").joinpath(f"{name}.yaml").read_bytes()


def _step(entry: dict[str, Any]) -> Step:
    return Step(
        id=entry["id"],
        title=entry["title"],
        say=entry["say"],
        why=entry["why"],
        needs=tuple(_condition(need) for need in entry["needs"]),
        gives_back=entry["gives_back"],
        practice=tuple(entry["practice"]),
        cautions=tuple(entry.get("cautions", [])),
        gate=entry.get("gate"),
        hold_point=entry.get("hold_point", False),
        released_by=entry.get("released_by"),
        independent=entry.get("independent", False),
        rests_on=tuple(entry.get("rests_on", [])),
        checkpoint=_checkpoint(entry["checkpoint"]) if "checkpoint" in entry else None,
        lane=entry.get("lane"),
        under_power=entry.get("under_power", False),
        stage=entry["stage"],
        isolated=entry.get("isolated", False),
    )


def _condition(need: dict[str, Any]) -> Condition:
    return Condition(
        id=need["id"],
        kind=need["kind"],
        says=need["says"],
        pattern=_pattern(need["said"]) if "said" in need else None,
        limits=_limits(need["value"]) if "value" in need else None,
        of=need.get("of"),
        equals=tuple(need.get("equals", [])),
        same_person_as=need.get("same_person_as"),
        by_role=need.get("by"),
        stands_until=need.get("stands_until"),
        only_while=tuple(_pattern(said) for said in need.get("only_while", [])),
        for_each=need.get("for_each"),
        checkpoint=need.get("checkpoint"),
        tolerance=need.get("tolerance", 0.0),
        only_if=need.get("only_if"),
    )


def _pattern(said: dict[str, Any]) -> Pattern:
    return pattern_of(said["intent"], said.get("slots", {}))


def _limits(value: dict[str, Any]) -> Limits:
    return Limits(
        slot=value.get("slot", "value"),
        unit=value.get("unit"),
        minimum=value.get("least"),
        maximum=value.get("most"),
        site_rule=value.get("site_rule"),
        expires=value.get("expires", False),
        holds_min=value.get("holds_min"),
    )


def _checkpoint(entry: dict[str, Any]) -> Checkpoint:
    return Checkpoint(
        travel=entry["travel"],
        travel_pct=entry["travel_pct"],
        direction=entry.get("direction"),
        rotors=dict(entry["rotors"]),
    )


def _event(entry: dict[str, Any]) -> Event:
    return Event(
        id=entry["id"],
        says=entry["says"],
        voids=tuple(entry["voids"]),
        when=tuple(_pattern(said) for said in entry.get("when", [])),
        happening=entry.get("happening"),
        while_said=tuple(_pattern(said) for said in entry.get("while", [])),
        after=entry.get("after"),
        until=entry.get("until"),
    )
