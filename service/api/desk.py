"""The desk of the second person: what waits, judging blind, the opinion, the release of a hold point."""

from fastapi import APIRouter

from service.api.asking import TheAsker, ThePorts
from service.api.job_view import DeskLine, DeskView
from service.api.job_wire import DoneAnswer, JudgementMessage, OpinionMessage, ReleaseMessage
from service.api.jobs import done
from service.api.problems import documented
from service.domain.incoming import Opinion
from service.use_cases.judge_blind import Stated, give_opinion, judge_blind
from service.use_cases.release_hold_point import release_hold_point
from service.use_cases.show_desk import show_checkpoint, show_desk

router = APIRouter(prefix="/v1", tags=["desk"])


@router.get("/desk", responses=documented(), summary="What waits")
def waiting(ports: ThePorts, asker: TheAsker) -> list[DeskLine]:
    """List the open checkpoints and hold points of the jobs in which this person is the verifier."""
    return [DeskLine.model_validate(line) for line in show_desk(ports, asker)]


@router.get("/desk/{job}/{step}", responses=documented(404), summary="One step at the desk")
def checkpoint(ports: ThePorts, asker: TheAsker, job: str, step: str) -> DeskView:
    """Show a step: before the judgement without claims, readings and computed states.

    After it side by side.
    """
    return DeskView.model_validate(show_checkpoint(ports, asker, job, step))


@router.post(
    "/jobs/{job}/steps/{step}/judgement",
    status_code=201,
    responses=documented(404, 409),
    summary="Judge blind",
)
def judge(ports: ThePorts, asker: TheAsker, job: str, step: str, message: JudgementMessage) -> DoneAnswer:
    """State identity, required state and seen state.

    Whether it was blind is computed from what was served.
    """
    required, seen = dict(message.required), dict(message.seen)
    stated = Stated(message.tag, required, seen, message.mode, message.reason)
    return done(judge_blind(ports, asker, job, step, stated))


@router.post(
    "/jobs/{job}/steps/{step}/opinion",
    status_code=201,
    responses=documented(404, 409),
    summary="Agree or not",
)
def opine(ports: ThePorts, asker: TheAsker, job: str, step: str, message: OpinionMessage) -> DoneAnswer:
    """Agree, disagree, or ask for another photo; anything but agreement begins a new attempt."""
    given = Opinion(person=asker.person_id, step=step, opinion=message.opinion, reason=message.reason)
    return done(give_opinion(ports, asker, job, given))


@router.post(
    "/jobs/{job}/steps/{step}/release",
    status_code=201,
    responses=documented(404, 409, 412),
    summary="Release a hold point",
)
def release(ports: ThePorts, asker: TheAsker, job: str, step: str, message: ReleaseMessage) -> DoneAnswer:
    """Release with a fresh sign-in (`POST /v1/session/proof`) on the head that was seen.

    412 where it has moved on.
    """
    return done(
        release_hold_point(
            ports, asker, job, step=step, head=message.head, mode=message.mode, reason=message.reason
        )
    )
