"""Tell whether a second look is worth anything: from paired looks in a document, or from the jobs of a site.

Of jobs only those that are handed back count: what is open may still be judged. Nothing is told of single people.
"""

from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from service.domain.job_looks import COMPARED, JobLooks, looks_of
from service.domain.job_state import JobState
from service.domain.refusals import Refusal
from service.domain.second_look import Disagreed, Look, worth_of
from service.ports import Asker, JobRow, Ports, Transaction
from service.use_cases.job_record import load_job
from service.use_cases.sights import OVERSEERS

MOST_JOBS = 300
"""Jobs that one answer rests on, the newest; the rest are counted as left out."""
LONGEST_S = 20.0
"""Seconds after which a request reads no further job; what it read is kept, so that the next goes on from there."""
REMEMBERED = "looks of jobs"


def tell_looks(looks: Iterable[Look]) -> dict[str, Any]:
    """Return how often pairs of looks disagreed, kappa with its interval, by step and by contact."""
    found = worth_of(looks)
    kappa = found.kappa
    return {
        **_share(found.total),
        "kappa": None if kappa is None else _rounded(kappa.kappa),
        "kappa_low": _rounded(found.interval[0]) if found.interval else None,
        "kappa_high": _rounded(found.interval[1]) if found.interval else None,
        "word": kappa.band if kappa and found.enough and found.interval else None,
        "enough": found.enough,
        "sentence": found.sentence,
        "by_step": [{"step": one.name, **_share(one)} for one in found.by_step],
        "by_contact": [{"contact": one.name, **_share(one)} for one in found.by_contact],
    }


def tell_site(ports: Ports, asker: Asker) -> dict[str, Any]:
    """Return the same over the jobs of the asker's site that this person may see; what takes too long is left out."""
    with ports.transactions.reading() as tx:
        rows = tx.listings.jobs(asker.site_id)
        until = ports.clock.now() + timedelta(seconds=LONGEST_S)
        return _told(ports, tx, rows, lambda people: _may_count(people, asker), until)


def tell_jobs(ports: Ports, tx: Transaction, rows: Iterable[JobRow]) -> dict[str, Any]:
    """Return what the looks of these jobs say, for each two that are compared, whoever asks."""
    return _told(ports, tx, rows, lambda _people: True, None)


def _may_count(people: frozenset[str], asker: Asker) -> bool:
    return asker.person_id in people or bool(asker.roles & OVERSEERS)


def _told(
    ports: Ports,
    tx: Transaction,
    rows: Iterable[JobRow],
    may_count: Callable[[frozenset[str]], bool],
    until: datetime | None,
) -> dict[str, Any]:
    left_out: Counter[str] = Counter()
    counted: list[JobLooks] = []
    for row in rows:
        if row.status != "closed":
            left_out["not handed back"] += 1
            continue
        if len(counted) >= MOST_JOBS:
            left_out["older"] += 1
            continue
        known = _known(ports, row)
        if known is None and until is not None and ports.clock.now() > until:
            left_out["not counted in time, ask again"] += 1
            continue
        try:
            known = known or _read(ports, tx, row)
        except Refusal:
            left_out["unreadable"] += 1
            continue
        if not may_count(known.people):
            left_out["not for this person"] += 1
            continue
        counted.append(known.looks)
    return _summed(counted, left_out)


def tell_states(states: Iterable[JobState], left_out: Mapping[str, int]) -> dict[str, Any]:
    """Return the same of jobs that were rebuilt elsewhere; `left_out` counts those that could not be."""
    more = Counter(left_out)
    counted = []
    for state in states:
        if state.closed:
            counted.append(looks_of(state))
        else:
            more["not handed back"] += 1
    return _summed(counted, more)


def _summed(jobs: Sequence[JobLooks], left_out: Counter[str]) -> dict[str, Any]:
    looks: dict[str, list[Look]] = {name: [] for name in COMPARED}
    opinions: Counter[str] = Counter()
    for job in jobs:
        left_out.update(job.left_out)
        opinions.update(job.opinions)
        for name, pairs in job.pairs.items():
            looks[name] += pairs
    return {
        "jobs": len(jobs),
        "left_out": dict(left_out),
        "opinions": dict(opinions),
        "compared": {name: tell_looks(found) for name, found in looks.items()},
    }


@dataclass(frozen=True)
class _Counted:
    """The looks of one job as its listing stood, and who has a part in it."""

    changed: str
    people: frozenset[str]
    looks: JobLooks


def _known(ports: Ports, row: JobRow) -> _Counted | None:
    """Return what an earlier request counted, where the job has not changed since."""
    known: dict[str, _Counted] = ports.remembered.get(REMEMBERED, {})
    found = known.get(row.id)
    return found if found and found.changed == row.changed else None


def _read(ports: Ports, tx: Transaction, row: JobRow) -> _Counted:
    """Count one job from its journal, and keep what was counted; the state itself is not kept on that account."""
    was_open = row.id in ports.remembered
    record = load_job(ports, tx, row.site_id, row.id)
    if not was_open:
        ports.remembered.pop(row.id, None)
    counted = _Counted(row.changed, frozenset(record.pinned.people), looks_of(record.state))
    known: dict[str, _Counted] = ports.remembered.get(REMEMBERED, {})
    ports.remembered[REMEMBERED] = {**known, row.id: counted}
    return counted


def _share(one: Disagreed) -> dict[str, Any]:
    low, high = one.interval or (None, None)
    return {
        "looks": one.looks,
        "disagreed": one.disagreed,
        "disagreed_share": _rounded(one.disagreed / one.looks) if one.looks else None,
        "disagreed_low": _rounded(low),
        "disagreed_high": _rounded(high),
    }


def _rounded(value: float | None) -> float | None:
    return None if value is None else round(value, 6)
