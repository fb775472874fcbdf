"""A worker: claims work, does it, and goes on.

A process of its own, so that a reading never stalls a request.
"""

from collections.abc import Callable, Mapping
from contextlib import AbstractContextManager
from dataclasses import dataclass

import structlog

from service.domain.refusals import Conflict, TooBusy
from service.ports import WorkItem
from service.work_queue.queue import SqlWorkQueue

log = structlog.get_logger()

Does = Callable[[WorkItem], None]
"""Does one piece of work; MUST call `queue.finish` in the transaction that keeps its result."""

GivesUp = Callable[[WorkItem, str], None]
"""Records that work was given up, with the reason, and closes it in the same transaction."""


@dataclass(frozen=True)
class Worker:
    """One worker.

    `name` is its place in the deployment, not its process id; `lease_s` is seconds of one claim.
    """

    name: str
    queue: Callable[[], AbstractContextManager[SqlWorkQueue]]
    does: Mapping[str, Does]
    gives_up: GivesUp
    lease_s: float
    attempts: int

    def take_up(self) -> int:
        """Give back what this worker held before it died; call once at the start."""
        with self.queue() as queue:
            return queue.give_back_of(self.name)

    def work_once(self) -> bool:
        """Claim and do one piece of work; False where nothing waits.

        Work that killed its worker at every attempt is given up like any other that fails.
        """
        with self.queue() as queue:
            item = queue.claim(self.name, self.lease_s)
        if item is None:
            return False
        if item.attempts > self.attempts:
            self._end(item, "the worker died each time")
            return True
        try:
            self.does[item.kind](item)
        except Conflict as conflict:
            log.info("work_done_elsewhere", key=item.key, why=str(conflict))
            self._release(item, str(conflict))
        except TooBusy as busy:
            log.warning("work_delayed", key=item.key, why=str(busy))
            self._release(item, str(busy))
        except Exception as error:
            log.exception("work_failed", key=item.key, attempt=item.attempts)
            self._release(item, f"{type(error).__name__}: {error}")
        return True

    def run(self, goes_on: Callable[[], bool], pause: Callable[[], None]) -> None:
        """Work until `goes_on` says no; `pause` is called when nothing waits."""
        self.take_up()
        while goes_on():
            try:
                if not self.work_once():
                    pause()
            except TooBusy as busy:
                log.warning("queue_unavailable", why=str(busy))
                pause()

    def _release(self, item: WorkItem, failure: str) -> None:
        if item.attempts >= self.attempts:
            self._end(item, failure)
            return
        with self.queue() as queue:
            queue.give_back(item, failure)

    def _end(self, item: WorkItem, failure: str) -> None:
        try:
            self.gives_up(item, failure)
        except Conflict:
            log.info("work_done_elsewhere", key=item.key)
