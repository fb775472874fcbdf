"""Say whether the service can do its work: the record answers, the media store is there, what waits."""

from dataclasses import dataclass

from service.ports import Ports


@dataclass(frozen=True)
class Health:
    """What was found; `waiting` counts unfinished pieces of work."""

    record: bool
    waiting: int


def report_health(ports: Ports) -> Health:
    """Read the record once; raises TooBusy where it does not answer."""
    with ports.transactions.reading() as tx:
        tx.registers.sites()
        return Health(record=True, waiting=tx.queue.waiting())
