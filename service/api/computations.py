"""The trade's computations over documents that are sent along: nothing of a job is read, nothing is stored.

And, over the jobs of a site that are handed back, whether the second look was worth anything.


The body is one document of a published schema (`GET /v1/schemas/{name}`), YAML or JSON, in which a part stands in
place of the name of its file; `limitwitness chart FILE --as-one` prints such a one. Any person who is signed in may
ask. Only a few are computed at a time, each bounded in size and time.
"""

from collections.abc import Callable
from typing import Annotated, Any, Literal, TypeVar

import anyio
from anyio import to_thread
from fastapi import APIRouter, Query, Request, Response
from fastapi.responses import JSONResponse

from service.api.asking import TheAsker, ThePorts
from service.api.body import whole_body
from service.api.problems import documented
from service.domain.refusals import TooBusy
from service.domain.travel import Direction
from service.drawings.chart_drawing import ChartView, draw_chart
from service.drawings.chart_words import chart_in_words
from service.drawings.figures_words import drift_in_words, looks_in_words, repeats_in_words, site_in_words
from service.drawings.stroke_plot import draw_stroke
from service.drawings.stroke_words import advice_in_words, stroke_in_words
from service.ports import Ports
from service.use_cases import tell_advice, tell_rehearsal
from service.use_cases.tell_agreement import tell_looks, tell_site
from service.use_cases.tell_chart import Asked, tell_chart
from service.use_cases.tell_repeats import tell_drift, tell_repeats

router = APIRouter(prefix="/v1", tags=["computations"])

Told = TypeVar("Told")
Form = Annotated[
    Literal["json", "svg", "words"],
    Query(
        description="json: what the command prints with --json; svg: the drawing; words: a table in words."
    ),
]
PlainForm = Annotated[Literal["json", "words"], Query(description="json, or the same in words.")]
AtPct = Annotated[
    float | None,
    Query(description="A travel in percent, 0 closed end, 100 open end; without it the whole chart."),
]
Towards = Annotated[Direction | None, Query(description="The direction in which the travel was reached.")]
After = Annotated[
    tuple[float, ...],
    Query(description="Turning points before it, in percent, oldest first; else it came from the far end."),
]
PlusMinus = Annotated[float, Query(description="Half-width of the doubt of the travel, in percent.")]
Another = Annotated[
    Direction | None, Query(description="A whole stroke in this direction in place of the stated one.")
]
AT_A_TIME, MOST_WAITING = 2, 20
"""Computations at a time, and how many may wait; beyond them a request is answered 503."""
SVG, WORDS = "image/svg+xml", "text/plain; charset=utf-8"


def taking(schema: str) -> dict[str, Any]:
    """Return the OpenAPI description of a body that is a document of a published schema."""
    described = {
        "schema": {"type": "object", "description": f"A document of GET /v1/schemas/{schema}."},
    }
    content = {"application/json": described, "application/yaml": described}
    return {"requestBody": {"required": True, "content": content}}


def answering(*forms: str) -> dict[int | str, dict[str, Any]]:
    """Return the OpenAPI description of the answers of a computation."""
    content: dict[str, Any] = {
        "application/json": {},
        **{form.split(";", maxsplit=1)[0]: {} for form in forms},
    }
    return {**documented(413), 200: {"content": content, "description": "What was computed"}}


async def computed(request: Request, ports: Ports, work: Callable[[bytes], Told]) -> Told:
    """Read the document and compute on a thread of its own few; raises TooBusy where too many wait."""
    limiter = free_limiter(request)
    document = await whole_body(request, ports.trade.largest, "document")
    return await to_thread.run_sync(work, document, limiter=limiter)


def free_limiter(request: Request) -> anyio.CapacityLimiter:
    """Return what holds computations to a few at a time; raises TooBusy where too many wait."""
    limiter: anyio.CapacityLimiter = request.app.state.computing
    if limiter.statistics().tasks_waiting >= MOST_WAITING:
        raise TooBusy("Too many computations wait already.", retry_after_s=2)
    return limiter


@router.post(
    "/computations/chart",
    responses=answering(SVG, WORDS),
    openapi_extra=taking("chart"),
    response_class=Response,
    summary="What a contact chart says",
)
async def chart(  # noqa: PLR0913 - FastAPI reads the request's parts from these
    ports: ThePorts,
    asker: TheAsker,  # noqa: ARG001 - signed in, no more is asked
    request: Request,
    at_pct: AtPct = None,
    towards: Towards = None,
    plus_minus_pct: PlusMinus = 0.0,
    after: After = (),
    form: Form = "json",
) -> Response:
    """Check a chart: contacts, lamps and stops at a travel, or table, lamps, bypasses and dangers along the whole.

    A dangerous chart is told as found, its dangers named; an impossible one is refused.
    """
    asked = Asked.of(at_pct, towards, plus_minus_pct, after)

    def work(document: bytes) -> Response:
        told = tell_chart(ports.trade.wiring(document), asked)
        if form == "svg":
            view = ChartView(told.travel, told.as_found, told.dangers)
            return Response(draw_chart(told.circuits.chart, view), media_type=SVG)
        return _plain(told.said, chart_in_words(told.circuits, told.said) if form == "words" else None)

    return await computed(request, ports, work)


@router.post(
    "/computations/advice",
    responses=answering(WORDS),
    openapi_extra=taking("valve"),
    response_class=Response,
    summary="Which way to turn each setting shaft",
)
async def advice(
    ports: ThePorts,
    asker: TheAsker,  # noqa: ARG001
    request: Request,
    form: PlainForm = "json",
) -> Response:
    """Advise on every rotor: which way, until what, how many turns, why; contradictions are refused.

    Only with the power locked out and the circuits proved dead by those on site; local rules come first.
    """

    def work(document: bytes) -> Response:
        valve, wiring = ports.trade.valve(document)
        told = tell_advice.tell_advice(valve, wiring)
        return _plain(told, advice_in_words(tell_advice.CAUTION, told) if form == "words" else None)

    return await computed(request, ports, work)


@router.post(
    "/computations/rehearsal",
    responses=answering(SVG, WORDS),
    openapi_extra=taking("valve"),
    response_class=Response,
    summary="A stroke rehearsed, and judged by its marks",
)
async def rehearsal(
    ports: ThePorts,
    asker: TheAsker,  # noqa: ARG001
    request: Request,
    towards: Another = None,
    form: Form = "json",
) -> Response:
    """Play a stroke through: contacts, lamps, stop, coast, what is left to the hard stop, each with its doubt.

    Predicted from stated figures: under power keep a hand on a proved stop; local rules come first.
    """

    def work(document: bytes) -> Response:
        valve, wiring = ports.trade.valve(document)
        told = tell_rehearsal.tell_rehearsal(valve, wiring, towards)
        if form == "svg":
            drawn = draw_stroke(valve.valve, told.stroke, told.done, told.marks)
            return Response(drawn, media_type=SVG)
        words = stroke_in_words(tell_rehearsal.CAUTION, told.said) if form == "words" else None
        return _plain(told.said, words)

    return await computed(request, ports, work)


@router.post(
    "/computations/repeats",
    responses=answering(WORDS),
    openapi_extra=taking("repeats"),
    response_class=Response,
    summary="Whether counted trips repeat",
)
async def repeats(
    ports: ThePorts,
    asker: TheAsker,  # noqa: ARG001
    request: Request,
    form: PlainForm = "json",
) -> Response:
    """Judge the counts of each trip: mean, spread, where the next may lie, and whether they are enough to tell."""

    def work(document: bytes) -> Response:
        told = tell_repeats(ports.trade.repeats(document))
        return _plain(told, repeats_in_words(told) if form == "words" else None)

    return await computed(request, ports, work)


@router.post(
    "/computations/drift",
    responses=answering(WORDS),
    openapi_extra=taking("drift"),
    response_class=Response,
    summary="How trip points drift from job to job",
)
async def drift(
    ports: ThePorts,
    asker: TheAsker,  # noqa: ARG001
    request: Request,
    form: PlainForm = "json",
) -> Response:
    """Fit the trip points of several jobs: drift a year with its doubt, when it would leave the tolerance."""

    def work(document: bytes) -> Response:
        told = tell_drift(ports.trade.drift(document))
        return _plain(told, drift_in_words(told) if form == "words" else None)

    return await computed(request, ports, work)


@router.post(
    "/computations/agreement",
    responses=answering(WORDS),
    openapi_extra=taking("looks"),
    response_class=Response,
    summary="What pairs of looks say",
)
async def agreement(
    ports: ThePorts,
    asker: TheAsker,  # noqa: ARG001
    request: Request,
    form: PlainForm = "json",
) -> Response:
    """Count how often two disagreed, with Wilson's interval, kappa with its own, by step and by contact."""

    def work(document: bytes) -> Response:
        told = tell_looks(ports.trade.looks(document))
        return _plain(told, looks_in_words(told) if form == "words" else None)

    return await computed(request, ports, work)


@router.get(
    "/agreement",
    responses=answering(WORDS),
    response_class=Response,
    summary="Whether the second look is worth anything here",
)
async def agreement_here(
    ports: ThePorts, asker: TheAsker, request: Request, form: PlainForm = "json"
) -> Response:
    """Count over the site's jobs that are handed back and that this person may see; nothing of single people."""

    def work() -> Response:
        told = tell_site(ports, asker)
        return _plain(told, site_in_words(told) if form == "words" else None)

    return await to_thread.run_sync(work, limiter=free_limiter(request))


def _plain(told: Any, words: str | None) -> Response:  # noqa: ANN401 - any value that JSON holds
    return JSONResponse(told) if words is None else Response(words, media_type=WORDS)


@router.get(
    "/schemas/{name}",
    responses=documented(404),
    summary="A published schema",
)
def schema(ports: ThePorts, asker: TheAsker, name: str) -> dict[str, Any]:  # noqa: ARG001
    """Return the JSON Schema of a document by its name; what the commands print with --schema."""
    return ports.trade.schema(name)
