import pytest

from service.domain.refusals import Conflict
from service.work_queue.worker import Worker
from tests import builders


@pytest.fixture
def job(transactions):
    site = builders.site()
    row = builders.job_row(site)
    with transactions.writing() as tx:
        tx.registers.add_site(site, builders.NOW)
        tx.listings.put_job(row)
    return row


def put(transactions, job, *keys, kind="read_photo"):
    with transactions.writing() as tx:
        for key in keys:
            tx.queue.put(job.site_id, job.id, kind, key, {"photo": key})


def claim(transactions, worker="w0", lease_s=60):
    with transactions.writing() as tx:
        return tx.queue.claim(worker, lease_s)


def test_work_of_one_key_is_queued_once(transactions, job):
    put(transactions, job, "a", "a")
    with transactions.reading() as tx:
        assert tx.queue.waiting() == 1


def test_hearing_goes_before_reading_so_that_a_spoken_stop_waits_for_no_photo(transactions, job):
    put(transactions, job, "photo")
    put(transactions, job, "clip", kind="hear_clip")
    assert [claim(transactions).key, claim(transactions).key] == ["clip", "photo"]


def test_claimed_work_is_not_given_to_a_second_worker_until_the_claim_runs_out(transactions, job, clock):
    put(transactions, job, "a")
    assert claim(transactions, "w0").key == "a"
    assert claim(transactions, "w1") is None
    clock.pass_(seconds=61)
    again = claim(transactions, "w1")
    assert (again.key, again.attempts) == ("a", 2)


def test_a_worker_that_comes_back_takes_up_at_once_what_it_held(transactions, job):
    put(transactions, job, "a")
    claim(transactions, "w0")
    with transactions.writing() as tx:
        assert tx.queue.give_back_of("w1") == 0
        assert tx.queue.give_back_of("w0") == 1
    assert claim(transactions, "w1").key == "a"


def test_the_second_of_two_workers_that_did_the_same_is_told_so(transactions, job, clock):
    put(transactions, job, "a")
    slow = claim(transactions, "w0")
    clock.pass_(seconds=61)
    fast = claim(transactions, "w1")
    with transactions.writing() as tx:
        tx.queue.finish(fast)
    with pytest.raises(Conflict), transactions.writing() as tx:
        tx.queue.finish(slow)


def worker(transactions, does, given_up=None):
    from contextlib import contextmanager

    @contextmanager
    def queue():
        with transactions.writing() as tx:
            yield tx.queue

    def gives_up(item, why):
        given_up.append((item.key, why))
        with transactions.writing() as tx:
            tx.queue.give_up(item, why)

    return Worker("w0", queue, {"read_photo": does}, gives_up, 60, 3)


def test_work_that_always_fails_is_given_up_with_its_reason(transactions, job):
    put(transactions, job, "a")
    given_up = []

    def fails(_item):
        raise ZeroDivisionError("no such bar")

    failing = worker(transactions, fails, given_up)
    assert [failing.work_once() for _ in range(4)] == [True, True, True, False]
    assert given_up == [("a", "ZeroDivisionError: no such bar")]
    with transactions.reading() as tx:
        assert tx.queue.failures(job.id) == given_up


def test_one_bad_piece_of_work_does_not_hold_up_the_next(transactions, job):
    put(transactions, job, "bad", "good")
    done = []

    def does(item):
        if item.key == "bad" and item.attempts < 2:
            raise ValueError("not yet")
        with transactions.writing() as tx:
            tx.queue.finish(item)
        done.append(item.key)

    working = worker(transactions, does, [])
    while working.work_once():
        pass
    assert sorted(done) == ["bad", "good"]


def test_work_that_kills_its_worker_each_time_is_given_up_too(transactions, job):
    put(transactions, job, "a")
    for _ in range(3):
        claim(transactions, "w0")
        with transactions.writing() as tx:
            tx.queue.give_back_of("w0")
    given_up = []
    assert worker(transactions, None, given_up).work_once()
    assert given_up == [("a", "the worker died each time")]


def test_a_piece_of_work_is_claimed_by_its_key_and_by_nobody_else_meanwhile(transactions, job, clock):
    put(transactions, job, "first", "own")
    with transactions.writing() as tx:
        assert tx.queue.claim_own("listener", "own", 10).key == "own"
        assert tx.queue.claim_own("other", "own", 10) is None
        assert tx.queue.claim_own("other", "never heard of", 10) is None
    assert claim(transactions, "w0").key == "first"
    assert claim(transactions, "w1") is None
    clock.pass_(seconds=11)
    assert claim(transactions, "w1").key == "own"
