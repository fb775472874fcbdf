"""The real service, started in a folder of its own as a process of its own."""

import contextlib
import subprocess
import sys
from pathlib import Path
from types import TracebackType
from typing import Self

START_TIMEOUT_LINES = 40


class ServiceDidNotStart(RuntimeError):  # noqa: N818 - it says what happened
    """The service ended, or said nothing of an address."""


class RunningService:
    """`limitwitness serve` on a free port; stops with the `with` block.

    `address` is what people open, `invitation` the one-time token of the administrator, `fingerprint` the
    hex SHA-256 of the signing key. The service's log goes to `service.log` in the folder.
    """

    address: str
    invitation: str
    fingerprint: str

    def __init__(self, folder: Path) -> None:
        self._folder = folder

    def __enter__(self) -> Self:
        self._folder.mkdir(parents=True, exist_ok=True)
        self._log = (self._folder / "service.log").open("wb")
        command = [sys.executable, "-m", "service", "serve", "--data", str(self._folder), "--port", "0"]
        self._process = subprocess.Popen(  # noqa: S603 - our own program with our own arguments
            command, stdout=subprocess.PIPE, stderr=self._log, text=True
        )
        try:
            self._read_welcome()
        except BaseException:
            self.__exit__(None, None, None)
            raise
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._process.terminate()
        with contextlib.suppress(subprocess.TimeoutExpired):
            self._process.wait(timeout=30)
        if self._process.poll() is None:
            self._process.kill()
            self._process.wait()
        if self._process.stdout is not None:
            self._process.stdout.close()
        self._log.close()

    def _read_welcome(self) -> None:
        """Read what `serve` prints: the administrator's link, the key, and last the address."""
        lines = self._process.stdout
        for _ in range(START_TIMEOUT_LINES):
            line = lines.readline().strip() if lines else ""
            if "#" in line:
                self.invitation = line.rpartition("#")[2]
            elif line.startswith("Signing key: "):
                self.fingerprint = line.rpartition(" ")[2]
            elif line.startswith("Open "):
                self.address = line.rpartition(" ")[2]
                return
            elif not line and self._process.poll() is not None:
                break
        raise ServiceDidNotStart(f"The service did not start; see {self._log.name}.")
