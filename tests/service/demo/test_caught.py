import pytest

from service.demo.caught import caught_in
from service.domain.entries import Entry


def entry(seq, kind, identity=None, **body) -> Entry:
    return Entry(
        seq=seq,
        kind=kind,
        version=1,
        id=identity or f"id-{seq}",
        person=None,
        device=None,
        device_seq=None,
        device_time=None,
        boot_id=None,
        monotonic_ns=None,
        received="2031-05-06T07:00:00Z",
        body=body,
        hash=f"hash-{seq}",
    )


def heard(seq, clip, text, intent, **slots) -> Entry:
    hearing = {"verdict": "heard", "text": text, "intent": intent, "slots": slots}
    return entry(seq, "clip_heard", clip=clip, hearing=hearing)


def names(entries) -> list[str]:
    return [one.fault for one in caught_in(entries)]


def test_nothing_is_caught_where_nothing_went_wrong():
    entries = [
        entry(1, "clip_taken_in", "c", step="prove_dead"),
        heard(2, "c", "tester proved live after", "tester", result="live", when="after"),
        entry(3, "finding_made", label="9", verdict="agreed", claim="open", reading="open", expected="open"),
        entry(4, "opinion_given", opinion="agree", reason=""),
    ]
    assert names(entries) == []


def test_a_not_in_the_dead_proof_is_told_with_its_entry_and_its_words():
    entries = [
        entry(1, "clip_taken_in", "c", step="prove_dead"),
        heard(2, "c", "tester not proved after", "tester", negated=True),
    ]
    (one,) = caught_in(entries)
    assert (one.fault, one.entry, one.said) == ("not_in_dead_proof", "hash-2", "tester not proved after")


def test_a_not_at_another_step_is_none_in_the_dead_proof():
    entries = [
        entry(1, "clip_taken_in", "c", step="closed_end"),
        heard(2, "c", "not", "contact", negated=True),
    ]
    assert names(entries) == []


@pytest.mark.parametrize(
    ("reason", "caught"),
    [
        ("Still open: heater to earth.", ["foreign_circuit_forgotten"]),
        ("Still open: line two to earth.", []),
        ("Still open: the tester proved live after.", []),
    ],
)
def test_a_forgotten_foreign_circuit_is_told_from_the_refused_release(reason, caught):
    assert names([entry(1, "release_refused", step="prove_dead", head="h", reason=reason)]) == caught


def test_a_hold_that_no_clip_caused_is_no_late_clip():
    assert names([entry(1, "gate_held", because="nobody", reason="r", voided=[], late=True)]) == []


def test_a_refused_photo_is_retaken_only_where_another_was_read_at_that_step():
    refused = [
        entry(1, "photo_taken_in", "p", step="both_mid"),
        entry(2, "photo_read", photo="p", reading={"verdict": "refused", "reason": "blurred"}),
    ]
    read = [
        entry(3, "photo_taken_in", "q", step="both_mid"),
        entry(4, "photo_read", photo="q", reading={"verdict": "read", "reason": None}),
    ]
    assert names(refused) == []
    assert names(refused + read) == ["photo_retaken"]
