"""Whether the service works, and what a problem's type means."""

from fastapi import APIRouter

from service.api.asking import ThePorts
from service.api.problems import documented
from service.api.wire import Message
from service.domain import refusals
from service.domain.refusals import NotFound, Refusal
from service.use_cases.report_health import report_health

router = APIRouter(tags=["service"])


class HealthAnswer(Message):
    """The record answers; how many clips and photos wait to be heard and read."""

    record: bool
    waiting: int


class ProblemMeaning(Message):
    """What a problem's type stands for."""

    type: str
    title: str
    meaning: str


@router.get("/health", responses=documented(), summary="Whether the service works")
def health(ports: ThePorts) -> HealthAnswer:
    """Read the record once and count what waits; 503 where the record does not answer."""
    found = report_health(ports)
    return HealthAnswer(record=found.record, waiting=found.waiting)


@router.get("/problems/{code}", responses=documented(404), summary="What a problem means")
def meaning(code: str) -> ProblemMeaning:
    """Explain the type of a problem document."""
    for kind in every_refusal():
        if kind.code == code:
            return ProblemMeaning(
                type=f"/problems/{code}", title=kind.title, meaning=(kind.__doc__ or "").strip()
            )
    raise NotFound("There is no problem of this type.")


def every_refusal(kind: type[Refusal] = refusals.Refusal) -> list[type[Refusal]]:
    """Return the tree of refusals, those of all rooms that are loaded."""
    return [kind, *(found for narrower in kind.__subclasses__() for found in every_refusal(narrower))]
