"""What could have been said instead: denials that agree with the copula are preferred, the others are only possible."""

import pytest

from speech.competitors import COPULA_COST, load_rules
from speech.hearing import Hearer
from speech.phrasebook import all_phrases

RULES = load_rules()


@pytest.mark.parametrize(
    ("copula", "denial", "preferred"),
    [
        ("is", "isn't", True),
        ("is", "aren't", False),
        ("are", "aren't", True),
        ("are", "isn't", False),
        ("is", "ain't", True),
        ("are", "won't", True),
    ],
)
def test_a_contracted_denial_is_preferred_where_it_agrees(copula, denial, preferred):
    cost = RULES.copula_cost(denial, copula, 4.0)
    assert cost < 0 if preferred else cost == COPULA_COST


def test_every_contracted_denial_agrees_with_some_copula():
    for denial in RULES.contracted & set(RULES.instead):
        assert any(denial not in RULES.disagrees.get(copula, ()) for copula in RULES.copula)


@pytest.mark.parametrize(
    ("name", "never"),
    [
        ("capacitors_are_charged_clean", "capacitors are discharged"),
        ("contacts_one_two_five_closed_clean", "contacts one through five closed"),
    ],
)
def test_a_word_that_sounds_almost_alike_is_heard_as_itself(clip, name, never):
    hearer = Hearer(all_phrases(["1", "2", "3", "4", "5"]))
    assert hearer._understanding.of(never)  # a phrase
    assert hearer.hear(clip(name)).verdict == "refused"
