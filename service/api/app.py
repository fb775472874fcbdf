"""The web application: every route in one place, and how one checkpoint goes by HTTP.

In short (`S` the service's address, `T` a bearer token; every body is JSON):

1.  First start: `serve` prints a one-time administrator link; its token sets the password: `POST
S/v1/passwords {"token", "password"}`, then `POST S/v1/session {"name": "administrator", "password"}` ->
token. 2.  People: `POST S/v1/persons {"name", "sign_in_name", "roles"}` -> one-time token; each sets a
password as in 1. 3.  Devices: `POST S/v1/devices/invitations {"name"}` -> one-time token; on the device
`POST S/v1/devices {"token"}` -> `device_token`, which goes along with its sign-ins: `POST S/v1/session
{"name", "password", "device_token"}`. 4.  Definitions: `PUT S/v1/media/<sha256>` with the bytes and their
Content-Type, for chart, layout, and a procedure of the site's own; `POST S/v1/jobs {"valve": {"tag"},
"chart", "layout", "procedure", "people"}` -> job. 5.  Each clip or photo: `PUT S/v1/media/<sha256>`, then
`PUT S/v1/jobs/<job>/items/<uuid>` with `{"kind": "clip" | "photo" | "statement", "device_seq",
"device_time", "step", "media", ...}`. 6.  What was heard and read comes with `GET S/v1/jobs/<job>`:
`being_worked_on` empties, `read_backs` lists what waits for "read back is right" (itself a clip, or a
statement `{"intent": "control", "slots": {"action": "read_back_right"}, "answers": <item>}`), `checkpoints`
shows claim, reading and finding to whom they may be shown. 7.  The verifier: `GET S/v1/desk`, `GET
S/v1/desk/<job>/<step>`, `GET S/v1/media/<photo>`, `POST S/v1/jobs/<job>/steps/<step>/judgement {"tag",
"required", "seen"}`, then `.../opinion {"opinion": "agree"}`. 8.  The release: `POST S/v1/session/proof
{"password"}` -> fresh token; `POST .../release {"head": <hash>}` with the head that `GET
S/v1/desk/<job>/<step>` told. A hold point of the technician is released by the same call. 9.  `GET
S/v1/jobs/<job>/package` -> zip; `limitwitness check job.zip --key <fingerprint>` needs no service.

The trade's computations stand beside the jobs: `POST S/v1/computations/chart | advice | rehearsal | ...` with one
document of `GET S/v1/schemas/<name>`.
"""

from collections.abc import AsyncIterator, Awaitable, Callable
from contextlib import AbstractAsyncContextManager, asynccontextmanager

from anyio import CapacityLimiter
from fastapi import FastAPI, Request, Response

from service.api import (
    computations,
    desk,
    health,
    intake,
    jobs,
    media,
    packages,
    problems,
    registers,
    sessions,
    stream,
)
from service.api.stream_seats import Seats
from service.ports import Ports

DESCRIPTION = (
    "Witnesses the setting of travel-limit contacts: hears, reads, compares, holds, records. "
    "Local rules, the site permit and licensed practice come first; this record proves nothing dead and "
    "stops no valve. Every error is application/problem+json (RFC 9457). Every item is idempotent by device "
    "and identity."
)

HEADERS = {
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "no-referrer",
    "X-Frame-Options": "DENY",
}


def build_app(ports: Ports, version: str, close: Callable[[], None] | None = None) -> FastAPI:
    """Return the application over `ports`; `close` is called when it ends."""
    app = FastAPI(
        title="limitwitness",
        version=version,
        description=DESCRIPTION,
        docs_url=None,  # their scripts come from elsewhere; a plant network has no elsewhere
        redoc_url=None,
        lifespan=_lifespan(close),
        generate_unique_id_function=lambda route: f"{(route.tags or ['service'])[0]}_{route.name}".replace(
            "-", "_"
        ),
    )
    app.state.ports = ports
    app.state.seats = Seats(ports.limits.streams_limit)
    app.state.computing = CapacityLimiter(computations.AT_A_TIME)
    problems.install(app)
    rooms = (health, sessions, registers, media, jobs, intake, desk, packages, computations, stream)
    for room in rooms:
        app.include_router(room.router)
    app.middleware("http")(_add_headers)
    plain = app.openapi
    app.openapi = lambda: problems.add_shape(plain())  # type: ignore[method-assign]  # FastAPI documents this way to extend it
    return app


async def _add_headers(request: Request, go_on: Callable[[Request], Awaitable[Response]]) -> Response:
    response = await go_on(request)
    for name, value in HEADERS.items():
        response.headers.setdefault(name, value)
    if request.url.path.startswith("/v1/"):
        response.headers.setdefault("Cache-Control", "no-store")
    return response


def _lifespan(close: Callable[[], None] | None) -> Callable[[FastAPI], AbstractAsyncContextManager[None]]:
    @asynccontextmanager
    async def _run(app: FastAPI) -> AsyncIterator[None]:
        yield
        app.state.seats.close()
        if close is not None:
            close()

    return _run
