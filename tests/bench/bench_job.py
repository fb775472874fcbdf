"""Speed of the state machine, as ratios to a baseline measured in the same run.

The entries of a whole job, and a long job of 2,000 entries, replayed; against handing the same entries to a function
that does nothing, and against one pass of `json.dumps` over their bodies, about what merely reading them costs.
"""

import json
import time

import pytest

from service.domain.job import apply, replay
from service.domain.job_state import JobState
from tests.service.domain.jobs import Rig, at, pinned, play_all

pytestmark = pytest.mark.bench


def seconds(work, rounds=3) -> float:
    best = float("inf")
    for _ in range(rounds):
        start = time.perf_counter()
        work()
        best = min(best, time.perf_counter() - start)
    return best


def long_job(entries=2000) -> Rig:
    """A job with that many entries: one checkpoint claimed and photographed over and over."""
    rig = at("closed_end")
    while len(rig.entries) < entries:
        rig.say("contact", {"contacts": ["9", "3B"], "state": "open"})
        rig.say("contact", {"contacts": ["17"], "state": "closed"})
        rig.photograph(rig.expected("closed_end"))
    return rig


def tell(name, job, entries):
    bodies = [json.loads(json.dumps(entry.body)) for entry in entries]
    nothing = seconds(lambda: [entry for entry in entries if entry.seq < 0])
    reading = seconds(lambda: [json.dumps(body) for body in bodies])
    replaying = seconds(lambda: replay(job, entries))
    print(
        f"\n{name}: {len(entries)} entries, {len(entries) / replaying:,.0f} entries replayed a second, "
        f"{replaying / reading:.1f} times json.dumps of the same bodies, "
        f"{replaying / max(nothing, 1e-9):,.0f} times an empty loop"
    )


def test_bench_a_whole_job_replayed():
    rig = play_all(at("hand_back", "default"))
    assert rig.state.closed
    tell("whole job", rig.state.pinned, rig.entries)


def test_bench_a_job_of_two_thousand_entries_replayed():
    rig = long_job()
    tell("long job", pinned(), rig.entries)


def test_bench_one_more_entry_on_a_long_job():
    rig = long_job()
    before = replay(rig.state.pinned, rig.entries[:-1])
    one = seconds(lambda: apply(before, rig.entries[-1]))
    empty = seconds(lambda: apply(JobState(rig.state.pinned), rig.entries[0]))
    print(f"\none entry on {len(rig.entries)}: {one / empty:.1f} times one entry on an empty job")
