"""Tell whether a second look is worth anything: from paired looks in a document, or from the jobs of a site.

Of jobs only those that are handed back count: what is open may still be judged. Nothing is told of single people.
"""

from collections import Counter
from collections.abc import Iterable, Mapping
from typing import Any

from service.domain.job_looks import COMPARED, looks_of
from service.domain.refusals import NotAllowed, Refusal
from service.domain.second_look import Disagreed, Look, worth_of
from service.ports import Asker, JobRow, Ports, Transaction
from service.use_cases.job_record import load_job
from service.use_cases.sights import sights_of

MOST_JOBS = 300
"""Jobs that one answer rests on, the newest; the rest are counted as left out."""


def tell_looks(looks: Iterable[Look]) -> dict[str, Any]:
    """Return how often pairs of looks disagreed, kappa with its interval, by step and by contact."""
    found = worth_of(looks)
    kappa = found.kappa
    return {
        **_share(found.total),
        "kappa": None if kappa is None else _rounded(kappa.kappa),
        "kappa_low": _rounded(found.interval[0]) if found.interval else None,
        "kappa_high": _rounded(found.interval[1]) if found.interval else None,
        "word": kappa.band if kappa and found.enough else None,
        "enough": found.enough,
        "sentence": found.sentence,
        "by_step": [{"step": one.name, **_share(one)} for one in found.by_step],
        "by_contact": [{"contact": one.name, **_share(one)} for one in found.by_contact],
    }


def tell_site(ports: Ports, asker: Asker) -> dict[str, Any]:
    """Return the same over the jobs of the asker's site that this person may see."""
    with ports.transactions.reading() as tx:
        rows = tx.listings.jobs(asker.site_id)
        return tell_jobs(ports, tx, rows, asker)


def tell_jobs(
    ports: Ports, tx: Transaction, rows: Iterable[JobRow], asker: Asker | None = None
) -> dict[str, Any]:
    """Return what the looks of jobs say, for each two that are compared; `asker` None sees every job."""
    left_out: Counter[str] = Counter()
    looks: dict[str, list[Look]] = {name: [] for name in COMPARED}
    counted = 0
    for row in rows:
        if row.status != "closed":
            left_out["not handed back"] += 1
        elif counted >= MOST_JOBS:
            left_out["older"] += 1
        else:
            counted += _add_job(ports, tx, row, asker, looks, left_out)
    return {
        "jobs": counted,
        "left_out": dict(left_out),
        "compared": {name: tell_looks(found) for name, found in looks.items()},
    }


def _add_job(  # noqa: PLR0913 - what is read, by whom, and the two tallies
    ports: Ports,
    tx: Transaction,
    row: JobRow,
    asker: Asker | None,
    looks: Mapping[str, list[Look]],
    left_out: Counter[str],
) -> int:
    """Add the looks of one job; return how many jobs were added."""
    try:
        record = load_job(ports, tx, row.site_id, row.id)
        if asker is not None:
            sights_of(tx, record, asker)
    except NotAllowed:
        left_out["not for this person"] += 1
        return 0
    except Refusal:
        left_out["unreadable"] += 1
        return 0
    found = looks_of(record.state)
    for name, pairs in found.pairs.items():
        looks[name] += pairs
    left_out.update(found.left_out)
    return 1


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
