"""What a shipped procedure asks for can be said: the ear has a phrase for every condition, negated or not."""

from dataclasses import replace
from itertools import permutations
from pathlib import Path

import pytest

from service.definitions.chart import load_chart
from service.definitions.layout import load_layout
from service.definitions.procedure import load_procedure, shipped_procedure, shipped_procedures
from service.domain.expansion import foreign_circuits, pin_job
from service.domain.pinned import Valve
from service.domain.statements import fits, statement_of
from speech.phrasebook import all_phrases

JOB = Path(__file__).parents[2] / "sample_media" / "jobs" / "rw-204"
PROCEDURES = shipped_procedures()
VALVE = Valve("RW-204", flameproof=True)


def chart():
    layout = load_layout((JOB / "layout.json").read_bytes())
    return load_chart((JOB / "chart.yaml").read_bytes(), layout)


def book():
    contacts = [contact.label for contact in chart().contacts]
    names = {"source": VALVE.sources, "foreign": foreign_circuits(VALVE, chart())}
    return all_phrases(contacts, names=names)


def conditions(procedure):
    read = load_procedure(shipped_procedure(procedure))
    pinned = pin_job(
        job="job",
        site="site",
        valve=VALVE,
        chart=replace(chart(), closed_end=read.seats["closed"], open_end=read.seats["open"]),
        procedure=read,
        people={},
    )
    return [(step, need) for step, need in pinned.procedure.conditions() if need.pattern is not None]


def said_with(phrase, wanted):
    """Say the phrase's slots so that they mean what is wanted, as far as they can."""
    slots = dict(phrase.slots)
    said = {}
    for name, meant in phrase.meaning.slots.items():
        slot = slots.get(meant[1:-1]) if isinstance(meant, str) and meant.startswith("{") else None
        if slot is None:
            said[name] = meant
        elif name in wanted and slot.say(wanted[name]) is not None:
            said[name] = wanted[name]
    return said


def ways_to_want(pattern):
    """The pattern's slots, a pair of conductors in either order, since people say either."""
    slots = dict(pattern.slots)
    ends = [name for name in ("from", "to") if name in slots]
    for order in permutations(slots[name] for name in ends):
        yield slots | dict(zip(ends, order, strict=True))


@pytest.mark.parametrize("procedure", PROCEDURES)
def test_every_condition_of_a_shipped_procedure_can_be_met_by_a_phrase(procedure):
    phrases = book()
    mute = [
        f"{step.id}/{need.id}"
        for step, need in conditions(procedure)
        if not any(
            fits(need.pattern, statement_of(phrase.meaning.intent, said_with(phrase, wanted)))
            for phrase in phrases
            if phrase.meaning.intent == need.pattern.intent
            for wanted in ways_to_want(need.pattern)
        )
    ]
    assert mute == []
