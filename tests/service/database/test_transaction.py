import pytest

from service.domain.entries import NewEntry
from service.journal.chain import unseal
from service.journal.heads import check_head
from tests import builders


class TornError(Exception):
    pass


@pytest.fixture
def job(transactions):
    site = builders.site()
    row = builders.job_row(site)
    with transactions.writing() as tx:
        tx.registers.add_site(site, builders.NOW)
        tx.listings.put_job(row)
    return row


def note(text: str) -> NewEntry:
    return NewEntry("note_added", {"text": text, "step": None})


def test_entry_listing_and_work_are_kept_together_or_not_at_all(transactions, job):
    with pytest.raises(TornError), transactions.writing() as tx:  # noqa: PT012 - the block is the transaction
        tx.journal.append(job.id, job.site_id, [note("half")], builders.NOW)
        tx.queue.put(job.site_id, job.id, "hear_clip", "hear:1", {})
        raise TornError
    with transactions.reading() as tx:
        assert tx.journal.entries(job.id) == []
        assert tx.queue.waiting() == 0


def test_entries_come_back_in_order_and_chained(transactions, job):
    for text in ("one", "two", "three"):
        with transactions.writing() as tx:
            tx.journal.append(job.id, job.site_id, [note(text)], builders.NOW)
    with transactions.reading() as tx:
        entries = tx.journal.entries(job.id)
        sealed = tx.journal.sealed(job.id)
    assert [entry.body["text"] for entry in entries] == ["one", "two", "three"]
    assert [entry.seq for entry in entries] == [0, 1, 2]
    assert [unseal(*bytes_) for bytes_ in sealed] == entries


def test_each_append_leaves_a_signed_head_of_the_newest_entry(transactions, job):
    with transactions.writing() as tx:
        tx.journal.append(job.id, job.site_id, [note("one"), note("two")], builders.NOW)
    with transactions.reading() as tx:
        signed = tx.journal.head(job.id)
        newest = tx.journal.entries(job.id)[-1]
    head = check_head(signed.document, signed.signature, signed.public_key)
    assert (head.job, head.seq, head.hash) == (job.id, newest.seq, newest.hash)


def test_the_same_text_twice_has_two_hashes_since_each_payload_is_salted(transactions, job):
    with transactions.writing() as tx:
        tx.journal.append(job.id, job.site_id, [note("same"), note("same")], builders.NOW)
    with transactions.reading() as tx:
        payloads = [payload for _, payload in tx.journal.sealed(job.id)]
    assert payloads[0] != payloads[1]


def test_an_identity_cannot_stand_twice_in_one_journal(transactions, job):
    twice = NewEntry("note_added", {"text": "a", "step": None}, id=builders.new_id())
    with pytest.raises(Exception, match="UNIQUE"), transactions.writing() as tx:
        tx.journal.append(job.id, job.site_id, [twice, twice], builders.NOW)
