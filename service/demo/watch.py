"""What a person's page would see of the job, asked again until nothing waits to be heard or read."""

import time
from typing import Any

from service.demo.people import Account

WAIT_S = 60
POLL_S = 0.05


class NothingCame(Exception):  # noqa: N818 - it says what happened
    """A clip or photo was not heard or read in time."""


class Watch:
    """Asks for one job as one person; `known_seq` is the newest entry that this person's page knows of."""

    def __init__(self, account: Account, job: str) -> None:
        self._account = account
        self._job = job
        self.known_seq = 0

    def view(self) -> dict[str, Any]:
        """Return the job as it is shown now."""
        view: dict[str, Any] = self._account.call("GET", f"/v1/jobs/{self._job}")
        self.known_seq = int(view["head"]["seq"])
        return view

    def settled(self) -> dict[str, Any]:
        """Wait until nothing of the job waits for its hearing or reading; raises NothingCame."""
        until = time.monotonic() + WAIT_S
        while (view := self.view())["being_worked_on"]:
            if time.monotonic() > until:
                raise NothingCame(f"Nothing was heard or read within {WAIT_S} s.")
            time.sleep(POLL_S)
        return view

    def attempt(self, step: str) -> dict[str, Any]:
        """Return the newest attempt at a checkpoint."""
        at = next(one for one in self.settled()["checkpoints"] if one["step"] == step)
        attempt: dict[str, Any] = at["attempts"][-1]
        return attempt

    def photos(self, step: str) -> list[dict[str, Any]]:
        """Return the photos of all attempts at a checkpoint, once they are read; none at any other step."""
        at = [one for one in self.settled()["checkpoints"] if one["step"] == step]
        return [photo for one in at for attempt in one["attempts"] for photo in attempt["photos"]]

    def entries(self, since: int) -> list[dict[str, Any]]:
        """Return the journal from an entry on as this person may see it, once everything is heard and read."""
        self.settled()
        asked = f"/v1/jobs/{self._job}/entries?after={since - 1}"
        entries: list[dict[str, Any]] = self._account.call("GET", asked)
        return entries
