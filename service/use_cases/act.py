"""Let a signed-in person act in a job at once.

One transaction from the state that is decided on to its new entries.
"""

from service.domain.incoming import Act
from service.ports import Asker, Ports
from service.use_cases.job_record import JobRecord, advance, load_job


def act(ports: Ports, asker: Asker, job_id: str, what: Act) -> JobRecord:
    """Decide on an act and record it; raises the refusal of the domain."""
    with ports.transactions.writing() as tx:
        return advance(ports, tx, load_job(ports, tx, asker.site_id, job_id), what)
