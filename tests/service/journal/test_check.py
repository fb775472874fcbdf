"""Every change of a journal is found by the check and named with its sequence number."""

from hypothesis import given, settings
from hypothesis import strategies as st

from service.journal.chain import SealedEntry
from service.journal.check import ChainFindings, check_chain
from tests.service.journal.journals import JOB, NEWS, head_of, sealed

CHAIN = sealed()
HEAD = head_of(CHAIN)
PERSONAL = [0, 3]


def pairs(chain: list[SealedEntry]) -> list[tuple[bytes, bytes | None]]:
    return [(stored.envelope, stored.payload) for stored in chain]


def checked(entries, job=JOB) -> ChainFindings:
    return check_chain(entries, job=job, head_seq=HEAD.seq, head_hash=HEAD.hash)


def named(entries) -> set[int]:
    return {problem.seq for problem in checked(entries).problems}


def test_an_untouched_journal_has_no_problem():
    assert checked(pairs(CHAIN)) == ChainFindings((), ())


def test_every_changed_byte_of_every_envelope_and_payload_is_found_and_named():
    for seq, stored in enumerate(CHAIN):
        for part, content in enumerate((stored.envelope, stored.payload)):
            for place in range(len(content)):
                altered = bytearray(content)
                altered[place] ^= 1
                entries = pairs(CHAIN)
                changed = (bytes(altered), stored.payload) if part == 0 else (stored.envelope, bytes(altered))
                entries[seq] = changed
                assert seq in named(entries), (seq, part, place)


@settings(max_examples=300)
@given(st.integers(0, len(CHAIN) - 1), st.integers(0, 10_000), st.integers(1, 255))
def test_a_byte_changed_to_any_other_names_its_entry_and_no_later_one(seq, place, change):
    envelope = bytearray(CHAIN[seq].envelope)
    envelope[place % len(envelope)] ^= change
    entries = pairs(CHAIN)
    entries[seq] = (bytes(envelope), CHAIN[seq].payload)
    assert seq in named(entries)
    assert named(entries) <= {seq, seq - 1}


@given(st.permutations(range(len(CHAIN))))
def test_every_other_order_is_found(order):
    entries = [pairs(CHAIN)[place] for place in order]
    out_of_place = {seq for place, seq in enumerate(order) if place != seq}
    assert out_of_place <= named(entries)
    assert bool(named(entries)) == bool(out_of_place)


@given(st.sets(st.integers(0, len(CHAIN) - 1), min_size=1))
def test_every_removed_entry_is_named(gone):
    entries = [pair for seq, pair in enumerate(pairs(CHAIN)) if seq not in gone]
    assert gone <= named(entries)


@given(st.integers(0, len(CHAIN) - 1), st.integers(0, len(CHAIN)))
def test_every_doubled_entry_is_named(seq, place):
    entries = pairs(CHAIN)
    entries.insert(place, entries[seq])
    assert seq in named(entries)
    assert any("second time" in problem.what for problem in checked(entries).problems)


def test_entries_dropped_from_the_end_are_missing():
    problems = checked(pairs(CHAIN)[:-2]).problems
    assert [(problem.seq, problem.what) for problem in problems] == [
        (3, "Entry 3 is missing."),
        (4, "Entry 4 is missing."),
    ]


def test_an_entry_added_after_the_signed_head_is_named():
    longer = sealed((*NEWS, NEWS[2]))
    assert [problem.seq for problem in checked(pairs(longer)).problems] == [5]


def test_an_edited_entry_with_the_rest_of_the_chain_made_to_fit_is_found_at_the_head():
    forged = sealed((*NEWS[:2], NEWS[4], *NEWS[3:]))
    assert 4 in named(pairs(forged))


def test_a_journal_of_another_job_is_named():
    foreign = sealed(job="another")
    findings = check_chain(pairs(foreign), job=JOB, head_seq=4, head_hash=foreign[-1].hash)
    assert {problem.what for problem in findings.problems} == {"This entry belongs to job another."}


def test_an_empty_journal_lacks_every_entry():
    assert named([]) == {0, 1, 2, 3, 4}


def test_removed_personal_payloads_leave_the_journal_whole_and_are_listed():
    entries = [
        (stored.envelope, None if seq in PERSONAL else stored.payload) for seq, stored in enumerate(CHAIN)
    ]
    assert checked(entries) == ChainFindings((), (0, 3))


def test_a_removed_payload_about_no_person_is_a_problem():
    entries = [(CHAIN[0].envelope, CHAIN[0].payload), (CHAIN[1].envelope, None), *pairs(CHAIN)[2:]]
    assert named(entries) == {1}
