from itertools import product

import pytest

from service.domain.findings import CLAIMS, EXPECTED_STATES, READ_STATES, make_finding
from service.pages.sentences import GRAVEST, disagreement, gravest_first, probability


def row(label, claim, reading, expected, denied=None):
    finding = make_finding(label, claim, reading, expected, denied=denied)
    return {
        name: getattr(finding, name)
        for name in ("label", "claim", "reading", "expected", "verdict", "denied")
    }


ALL = [row("9", *three) for three in product(CLAIMS, READ_STATES, EXPECTED_STATES)]


@pytest.mark.parametrize("finding", ALL, ids=lambda one: f"{one['claim']}-{one['reading']}-{one['expected']}")
def test_whatever_is_not_agreed_is_told_in_one_sentence_with_what_to_do_next(finding):
    told = disagreement([finding], ["9"])
    if finding["verdict"] == "agreed":
        assert told is None
        return
    assert told["says"].startswith("Contact 9, ")
    assert told["says"].count(".") == 1
    assert finding["verdict"] in told["says"]
    assert told["next"]
    assert len(told["speak"].split()) <= 12


def test_a_denial_is_never_told_as_agreement():
    finding = row("9", "closed", "open", "open", denied="closed")
    assert disagreement([finding], ["9"])["says"].startswith("Contact 9, seen: said not closed")


def test_the_gravest_comes_first_and_the_others_are_counted():
    findings = [row("9", "closed", "none", "closed"), row("12", "closed", "open", "open")]
    assert [one["label"] for one in gravest_first(findings, ["9", "12"])] == ["12", "9"]
    assert disagreement(findings, ["9", "12"])["says"].endswith(" 1 more below.")


def test_contacts_that_are_not_judged_are_not_complained_of():
    assert disagreement([row("9", "open", "closed", "closed")], ["12"]) is None


def test_every_verdict_that_can_be_complained_of_has_its_rank():
    assert set(GRAVEST) >= {one["verdict"] for one in ALL} - {"agreed", "not-judged"}


@pytest.mark.parametrize(
    ("p", "words"), [(0.5, "50 %"), (0.985, "98 %"), (0.9961, "99.6 %"), (1.0, "99.9 %"), (None, "")]
)
def test_a_probability_is_never_rounded_up_to_certainty(p, words):
    assert probability(p) == words
