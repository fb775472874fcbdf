"""Show what a job's chart and layout say for themselves: nothing of any checkpoint, so it primes nobody."""

import json
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from service.domain.chart import ContactChart
from service.ports import Asker, Ports
from service.use_cases.job_record import LAYOUT, load_job
from service.use_cases.sights import sights_of


@dataclass(frozen=True)
class Drawing:
    """The chart, the layout file as it was pinned (lengths in mm, angles in degrees), and roles in the job."""

    chart: ContactChart
    layout: Mapping[str, Any]
    roles: frozenset[str]


def show_drawing(ports: Ports, asker: Asker, job_id: str) -> Drawing:
    """Return chart and layout; raises NotFound, and NotAllowed for who may not see the job."""
    with ports.transactions.reading() as tx:
        record = load_job(ports, tx, asker.site_id, job_id)
        sights_of(tx, record, asker)
    known = record.pinned.people.get(asker.person_id)
    layout = json.loads(ports.media.get(record.pinned.pins[LAYOUT]))
    return Drawing(record.pinned.chart, layout, frozenset(known.roles) if known else frozenset())
