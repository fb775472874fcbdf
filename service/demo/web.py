"""HTTP as curl would make it: JSON in, JSON out, problems as they come (RFC 9457)."""

import http.client
import json
import time
from typing import Any
from urllib.parse import urlsplit

TIMEOUT_S = 60
IDLE_S = 2.0
"""After this a connection is opened anew: the service closes one that has been idle for five seconds."""


class ProblemAnswer(Exception):  # noqa: N818 - an answer of the service, not a defect of the caller
    """The service answered with a problem document."""

    def __init__(self, status: int, problem: dict[str, Any]) -> None:
        super().__init__(f"{status} {problem.get('title', '')}: {problem.get('detail', '')}")
        self.status = status
        self.problem = problem


class Web:
    """Calls one service; keeps its connection open."""

    def __init__(self, address: str) -> None:
        parts = urlsplit(address)
        self._connection = http.client.HTTPConnection(
            parts.hostname or "", parts.port or 80, timeout=TIMEOUT_S
        )
        self._used = time.monotonic()

    def send(
        self,
        method: str,
        path: str,
        message: dict[str, Any] | None = None,
        *,
        token: str | None = None,
        content: tuple[str, bytes] | None = None,
    ) -> Any:  # noqa: ANN401 - the JSON of any answer, or bytes
        """Make one request with a JSON message, or `content` as (media type, bytes); returns JSON or bytes.

        Raises ProblemAnswer for every status from 400 on.
        """
        kind, body = content or ("application/json", json.dumps(message).encode() if message else b"")
        headers = {"Content-Type": kind, **({"Authorization": f"Bearer {token}"} if token else {})}
        if time.monotonic() - self._used > IDLE_S:
            self._connection.close()
        self._connection.request(method, path, body=body, headers=headers)
        answer = self._connection.getresponse()
        returned = answer.read()
        self._used = time.monotonic()
        is_json = "json" in (answer.getheader("Content-Type") or "")
        told = json.loads(returned) if returned and is_json else returned
        if answer.status >= 400:
            raise ProblemAnswer(answer.status, told if isinstance(told, dict) else {"detail": str(told)})
        return told

    def close(self) -> None:
        """Close the connection."""
        self._connection.close()
