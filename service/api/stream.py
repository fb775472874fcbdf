"""A stream: a device's microphone in, what was understood out, over a WebSocket (RFC 6455)."""

from fastapi import APIRouter, WebSocket
from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException

from service.api.asking import COOKIE, TheAsker, ThePorts, require_own_page
from service.api.problems import documented, problem_response
from service.api.stream_seats import Seats
from service.api.stream_session import StreamSession
from service.domain.refusals import Refusal
from service.ports import Asker, Ports
from service.use_cases.listen import require_part
from service.use_cases.sign_in import recognise

router = APIRouter(prefix="/v1/jobs", tags=["stream"])


@router.get(
    "/{job}/stream",
    status_code=426,
    responses=documented(404, 426),
    summary="Be listened to (WebSocket)",
)
def only_websocket(ports: ThePorts, asker: TheAsker, job: str) -> None:
    """Say that this path is a WebSocket; sign in as everywhere, on an enrolled device.

    The device sends text messages, JSON with `type`, and its sound in binary ones of at most 320000 bytes:
    `open` (first: `step`, `encoding` pcm, ogg or webm, `rate`, `device_time`, `known_seq`), `speaking` (`state`
    begins or ends, `text`: the device itself speaks), `known` (`seq`: newest entry the person was told of),
    `number` (`utterance`, `device_seq`), `step`, `clock` (`number`, `recorded_s`: the answer to a question) and
    `end`. The service sends `ready`, `partial`, `utterance_end`, `claim` or `refusal` (`hearing` as for a clip, with
    times of the stream beside it, `mark` for a spoken mark), `withdrawn`, `recorded` (the utterance is stored up to
    `to_s` and is a clip of the job like any other), `own_voice`, `clock` and `problem`, and closes with 1000, 1003,
    1007, 1008, 1009, 1011 or 1013 and a reason that names the limit.
    """
    require_part(ports, asker, job)
    raise HTTPException(426, "This path is a WebSocket.", headers={"Upgrade": "websocket"})


@router.websocket("/{job}/stream")
async def listen(socket: WebSocket, job: str) -> None:
    """Carry one stream; who may not is refused before it begins, by a problem document."""
    ports: Ports = socket.app.state.ports
    seats: Seats = socket.app.state.seats
    try:
        token = token_of(socket)
        asker = await run_in_threadpool(_asker_of, ports, token, job)
    except Refusal as refusal:
        await socket.send_denial_response(problem_response(refusal, socket.url.path))
        return
    await socket.accept()
    await StreamSession(socket, ports, asker, token, job, seats).run()


def token_of(socket: WebSocket) -> str | None:
    """Return the token of a sign-in: bearer, or the cookie of a page of our own."""
    scheme, _, stated = socket.headers.get("authorization", "").partition(" ")
    if scheme.lower() == "bearer" and stated:
        return stated
    kept = socket.cookies.get(COOKIE)
    if kept is not None:
        require_own_page(socket)
    return kept


def _asker_of(ports: Ports, token: str | None, job: str) -> Asker:
    asker = recognise(ports, token)
    require_part(ports, asker, job)
    return asker
