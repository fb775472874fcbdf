"""The verdict table, against a table typed out by hand from the words of the rule, all 45 combinations."""

from itertools import product

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.domain.findings import (
    CLAIMS,
    EXPECTED_STATES,
    READ_STATES,
    RULES,
    VERDICTS,
    make_finding,
    verdict,
)

# claim, reading -> verdict where the chart wants closed / open / either
TYPED_OUT = {
    ("closed", "closed"): ("agreed", "off-chart", "not-judged"),
    ("closed", "open"): ("disputed", "disputed", "disputed"),
    ("closed", "between"): ("disputed", "disputed", "disputed"),
    ("closed", "none"): ("claimed", "off-chart", "not-judged"),
    ("closed", "impossible"): ("impossible", "impossible", "impossible"),
    ("open", "closed"): ("disputed", "disputed", "disputed"),
    ("open", "open"): ("off-chart", "agreed", "not-judged"),
    ("open", "between"): ("disputed", "disputed", "disputed"),
    ("open", "none"): ("off-chart", "claimed", "not-judged"),
    ("open", "impossible"): ("impossible", "impossible", "impossible"),
    ("none", "closed"): ("seen", "off-chart", "not-judged"),
    ("none", "open"): ("off-chart", "seen", "not-judged"),
    ("none", "between"): ("part-way", "part-way", "part-way"),
    ("none", "none"): ("unshown", "unshown", "unshown"),
    ("none", "impossible"): ("impossible", "impossible", "impossible"),
}
ALL = list(product(CLAIMS, READ_STATES, EXPECTED_STATES))


def typed_out(claim, reading, want):
    return TYPED_OUT[claim, reading][("closed", "open", "either").index(want)]


def test_the_table_is_whole():
    assert len(ALL) == 45
    assert set(TYPED_OUT) == set(product(CLAIMS, READ_STATES))


@pytest.mark.parametrize(("claim", "reading", "want"), ALL)
def test_every_combination_has_the_verdict_of_the_typed_out_table(claim, reading, want):
    assert verdict(claim, reading, want) == typed_out(claim, reading, want)
    assert make_finding("9", claim, reading, want).verdict == typed_out(claim, reading, want)


@pytest.mark.parametrize(("claim", "reading", "want"), ALL)
def test_only_claim_and_reading_equal_and_expected_satisfy(claim, reading, want):
    satisfied = claim == reading == want and claim in ("closed", "open")
    assert make_finding("9", claim, reading, want).satisfies is satisfied


def test_the_rules_stand_in_the_order_in_which_the_words_stand():
    assert [word for word, _ in RULES] == list(VERDICTS)


@given(st.sampled_from(READ_STATES), st.sampled_from(EXPECTED_STATES), st.sampled_from(["closed", "open"]))
def test_a_denial_never_satisfies_and_a_reading_equal_to_it_is_disputed(reading, want, denied):
    finding = make_finding("9", "closed", reading, want, denied=denied)
    assert not finding.satisfies
    assert finding.claim == "none"
    assert finding.verdict != "agreed"
    if reading == denied:
        assert finding.verdict == "disputed"


@given(st.sampled_from(ALL), st.floats(0, 1))
def test_the_bar_position_as_shown_is_the_readings_own_probability(combination, p):
    claim, reading, want = combination
    finding = make_finding("9", claim, reading, want, p=p)
    assert finding.bar_position_as_shown == (p if reading in ("closed", "open") else None)


def test_a_claim_changed_after_the_reading_was_known_says_so():
    finding = make_finding("9", "closed", "closed", "closed", changed_after_reading=True)
    assert finding.changed_after_reading
    assert "The claim changed after the reading was known." in finding.reasons


@pytest.mark.parametrize(("claim", "reading", "want"), ALL)
def test_every_finding_has_its_reasons_in_sentences(claim, reading, want):
    reasons = make_finding("9", claim, reading, want).reasons
    assert reasons
    assert all(reason.endswith(".") and reason[0].isupper() for reason in reasons)


@pytest.mark.parametrize("word", ["verified", "valid", "safe", "ok"])
def test_no_verdict_and_no_reason_promises_more_than_was_found(word):
    said = " ".join(
        " ".join((*make_finding("9", *one).reasons, make_finding("9", *one).verdict)) for one in ALL
    )
    assert word not in said.lower().split()
