"""Jobs: open, list, show; and what is done in them at once: stop, resume, break, handover, gap, note."""

from typing import Annotated

from fastapi import APIRouter, Query

from service.api.asking import TheAsker, ThePorts
from service.api.job_view import EntryView, JobView
from service.api.job_wire import (
    BreakMessage,
    DoneAnswer,
    GapMessage,
    HandoverMessage,
    JobLine,
    JobMessage,
    NoteMessage,
    ResumeMessage,
    StopMessage,
)
from service.api.problems import documented
from service.domain.incoming import Break, GiveUpGap, Handover, Note, Resume, Stop
from service.use_cases.act import act
from service.use_cases.job_record import JobRecord
from service.use_cases.open_job import JobRequest, open_job
from service.use_cases.show_job import list_jobs, show_entries, show_job

router = APIRouter(prefix="/v1/jobs", tags=["jobs"])

After = Annotated[int, Query(ge=-1, description="Number of the newest entry that the asker has.")]


@router.post("", status_code=201, responses=documented(404, 409), summary="Open a job")
def open_one(ports: ThePorts, asker: TheAsker, message: JobMessage) -> JobLine:
    """Open a job on stored definitions and pin each by its hash. Engineers and administrators."""
    valve = message.valve.valve()
    request = JobRequest(
        valve,
        message.chart,
        message.layout,
        message.procedure,
        message.people,
        message.reference_photo,
        message.actuator,
    )
    return JobLine.of(open_job(ports, asker, request))


@router.get("", responses=documented(), summary="Jobs of the site")
def all_of_site(ports: ThePorts, asker: TheAsker) -> list[JobLine]:
    """List the jobs of the site, the one that changed last first."""
    return [JobLine.of(row) for row in list_jobs(ports, asker)]


@router.get("/{job}", responses=documented(404), summary="One job")
def one(ports: ThePorts, asker: TheAsker, job: str) -> JobView:
    """Show a job as this person may see it; what is shown is noted in the log of servings."""
    return JobView.model_validate(show_job(ports, asker, job))


@router.get("/{job}/entries", responses=documented(404), summary="The journal of a job")
def entries(ports: ThePorts, asker: TheAsker, job: str, after: After = -1) -> list[EntryView]:
    """List the entries after one, all by default; what would prime this person is told once that person has judged."""
    return [EntryView.model_validate(entry) for entry in show_entries(ports, asker, job, after)]


@router.post("/{job}/stop", status_code=201, responses=documented(404), summary="Stop work")
def stop(ports: ThePorts, asker: TheAsker, job: str, message: StopMessage) -> DoneAnswer:
    """Hold the job, by anyone at any time. It holds the record, not the motor."""
    stopped = Stop(
        person=asker.person_id,
        reason=message.reason,
        may_resume=tuple(message.may_resume),
        device=asker.device_id,
    )
    return done(act(ports, asker, job, stopped))


@router.post("/{job}/resume", status_code=201, responses=documented(404, 409), summary="Resume work")
def resume(ports: ThePorts, asker: TheAsker, job: str, message: ResumeMessage) -> DoneAnswer:
    """Resume work by whoever stopped it or a person named there, with a reason."""
    return done(
        act(ports, asker, job, Resume(person=asker.person_id, stop=message.stop, reason=message.reason))
    )


@router.post("/{job}/break", status_code=201, responses=documented(404), summary="Take a break")
def pause(ports: ThePorts, asker: TheAsker, job: str, message: BreakMessage) -> DoneAnswer:
    """Note a break or change of shift; what it voids is proved again afterwards."""
    return done(act(ports, asker, job, Break(person=asker.person_id, cause=message.cause)))


@router.post("/{job}/handover", status_code=201, responses=documented(404, 409), summary="Hand over")
def hand_over(ports: ThePorts, asker: TheAsker, job: str, message: HandoverMessage) -> DoneAnswer:
    """Hand the job to another technician of the job."""
    return done(
        act(ports, asker, job, Handover(person=asker.person_id, to=message.to, reason=message.reason))
    )


@router.post("/{job}/gaps", status_code=201, responses=documented(404), summary="Give up missing items")
def give_up(ports: ThePorts, asker: TheAsker, job: str, message: GapMessage) -> DoneAnswer:
    """Go on past items of a device that will never come, with a reason."""
    gap = GiveUpGap(person=asker.person_id, device=message.device, up_to=message.up_to, reason=message.reason)
    return done(act(ports, asker, job, gap))


@router.post("/{job}/notes", status_code=201, responses=documented(404), summary="Add a note")
def note(ports: ThePorts, asker: TheAsker, job: str, message: NoteMessage) -> DoneAnswer:
    """Add a note; it moves nothing."""
    return done(act(ports, asker, job, Note(person=asker.person_id, text=message.text, step=message.step)))


def done(record: JobRecord) -> DoneAnswer:
    """Tell that an act was recorded."""
    return DoneAnswer(status=record.row.status, seq=record.state.last_seq, head=record.entries[-1].hash)
