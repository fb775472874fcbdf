"""Make the package of a job: all of its evidence, checkable without this service."""

from service.domain.refusals import NotAllowed
from service.domain.sight import PRIMING
from service.ports import Asker, Ports
from service.use_cases.job_record import load_job
from service.use_cases.sights import note_served, sights_of


def make_package(ports: Ports, asker: Asker, job_id: str) -> bytes:
    """Return the package as a zip; the same journal head gives the same bytes.

    Raises NotAllowed for a second person who could still judge: the package shows everything.
    """
    with ports.transactions.writing() as tx:
        record = load_job(ports, tx, asker.site_id, job_id)
        wanted = {(what, step) for what in PRIMING for step in record.state.attempts}
        sights = sights_of(tx, record, asker)
        if any(f"{what}:{step}" not in sights for what, step in wanted):
            raise NotAllowed("The package shows every claim and reading; judge the open checkpoint first.")
        note_served(ports, tx, record, asker, wanted)
        sealed = tx.journal.sealed(job_id)
        head = tx.journal.head(job_id)
        media = tx.listings.media_of_job(job_id)
    return ports.packages.build(sealed, head, media, record.state)
