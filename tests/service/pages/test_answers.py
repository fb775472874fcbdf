from dataclasses import replace

import pytest

from service.domain.needs import meets
from service.domain.procedure import Limits
from service.domain.statements import statement_of
from service.pages.answers import contact_groups, question_on, range_in_words
from tests.service.domain.jobs import TAG, pinned, shipped

SHIPPED = ("one_checkpoint", "default")


def answers(need):
    """Return every statement that the page sends when a need is answered inside its limits."""
    question = question_on(need)
    limits = need.limits or Limits()
    least = limits.minimum if limits.minimum is not None else 0.0
    if question.kind == "choice":
        return [said for _, said in question.choices]
    slots = dict(question.statement["slots"])
    if question.kind in {"number", "turns"}:
        slots[question.statement["slot"]] = least
    if question.kind == "text":
        slots["value"] = TAG if slots.get("of") == "valve" else "4711"
    if question.statement.get("unit"):
        slots["unit"] = question.statement["unit"]
    if question.expires:
        slots["until"] = "2099-12-31"
    return [{"intent": question.statement["intent"], "slots": slots}]


def spoken_needs(name):
    steps = pinned(name).procedure.steps
    return [need for step in steps for need in step.needs if need.kind in {"statement", "value"}]


@pytest.mark.parametrize("name", SHIPPED)
def test_every_thing_that_a_shipped_procedure_wants_said_can_be_said_by_button_or_field(name):
    needs = spoken_needs(name)
    assert needs
    for need in needs:
        for said in answers(need):
            assert meets(need, statement_of(said["intent"], said["slots"])), need.id


@pytest.mark.parametrize("name", SHIPPED)
def test_it_is_not_so_never_meets_what_was_asked(name):
    denials = [(need, question_on(need).denial) for need in spoken_needs(name)]
    denied = [(need, said) for need, said in denials if said]
    assert denied
    for need, said in denied:
        assert not meets(need, statement_of(said["intent"], said["slots"])), need.id


def test_a_tag_is_never_filled_in_by_the_page():
    for need in spoken_needs("default"):
        if need.pattern.intent == "tag":
            assert "value" not in question_on(need).statement["slots"]
            assert TAG not in str(question_on(need))


def test_contacts_are_asked_rotor_by_rotor_in_the_order_of_the_chart():
    chart = pinned().chart
    labels = [contact.label for contact in chart.contacts]
    groups = contact_groups(chart, reversed(labels))
    assert [group.rotor for group in groups] == [rotor.id for rotor in chart.rotors]
    assert [label for group in groups for label in group.labels] == labels
    assert contact_groups(chart, []) == ()


def test_limits_are_told_in_words_with_their_unit():
    limits = Limits(unit="V", minimum=0, maximum=1)
    assert range_in_words(limits) == "0 to 1 V"
    assert range_in_words(replace(limits, minimum=None)) == "at most 1 V"
    assert range_in_words(replace(limits, maximum=None, unit=None)) == "at least 0"
    assert range_in_words(None) == range_in_words(Limits(unit="V")) == ""


def test_the_shipped_procedures_are_those_that_are_tried_here():
    for name in SHIPPED:
        assert shipped(name).steps
