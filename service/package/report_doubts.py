"""What a reader of the report must know first: what is open, refused, contradicted or not there."""

from collections.abc import Iterator

from service.domain.derived import open_findings
from service.domain.evidence import findings
from service.domain.job_state import Attempt, JobState
from service.package.packaged import PackagedJob
from service.package.report_clocks import CLOCK_OFF_S, device_clocks, in_words
from service.package.report_strokes import stroke_doubts


def open_doubts(job: PackagedJob) -> list[str]:
    """Return every open doubt as one sentence, the heaviest first."""
    state = job.state
    if state is None:
        return [
            "The state of the job could not be rebuilt from this record, so only its entries are shown.",
            *_absent(job),
            *_clocks(job),
        ]
    return [
        *_stopped(job, state),
        *_unfinished(state),
        *_findings(state),
        *stroke_doubts(state),
        *_judgements(job, state),
        *_late(state),
        *_waiting(state),
        *_absent(job),
        *_clocks(job),
        *_unknown(state),
    ]


def _stopped(job: PackagedJob, state: JobState) -> Iterator[str]:
    for hold in state.holds:
        why = hold.reason or "no reason given"
        yield f"Work was stopped by {job.name(hold.person)} and not resumed: {_ended(why)}"


def _unfinished(state: JobState) -> Iterator[str]:
    if state.closed:
        return
    steps = state.pinned.procedure.steps
    left = [step for step in steps if state.step(step.id).passed is None]
    yield f"The job is not handed back: {len(left)} of {len(steps)} steps have not passed."
    for step in left:
        for need in step.needs:
            condition = state.condition(f"{step.id}/{need.id}")
            if condition.status == "void":
                yield f'"{step.title}": {need.says}, once met, is void: {_ended(condition.because)}'


def _findings(state: JobState) -> Iterator[str]:
    for step, attempts in state.attempts.items():
        title = f'"{state.pinned.procedure.step(step).title}"'
        released = state.step(step).released
        for label, verdict in open_findings(state, step).items():
            if not _shown(attempts):
                continue
            reasons = " ".join(_reasons(state, step, label))
            covered = (
                f" Released with the reason: {_ended(released.reason)}"
                if released and released.waived
                else ""
            )
            yield f"{title}, contact {label}: {verdict}. {reasons}{covered}"


def _shown(attempts: tuple[Attempt, ...]) -> bool:
    newest = attempts[-1]
    return bool(newest.photos or newest.claims or newest.denied)


def _reasons(state: JobState, step: str, label: str) -> tuple[str, ...]:
    return next((finding.reasons for finding in findings(state, step) if finding.label == label), ())


def _judgements(job: PackagedJob, state: JobState) -> Iterator[str]:
    for step, attempts in state.attempts.items():
        title = f'"{state.pinned.procedure.step(step).title}"'
        for judgement in attempts[-1].judgements:
            who = job.name(judgement.person)
            if judgement.mode == "concurrent":
                yield f"{title}: {who} judged on site at the same time; this is not independent."
            elif not judgement.blind:
                yield f"{title}: {who} had been shown something of this checkpoint before judging."
            for fault in judgement.faults:
                yield f"{title}: the judgement by {who} does not count: {_ended(fault)}"
            if judgement.opinion not in {None, "agree"}:
                yield f"{title}: {who} answered: {str(judgement.opinion).replace('_', ' ')}."


def _late(state: JobState) -> Iterator[str]:
    for trouble in state.troubles:
        settled = all(state.condition(name).status == "met" for name in trouble.voided)
        if trouble.late and not settled:
            yield f"Entry {trouble.seq} came after what it contradicts: {_ended(trouble.reason)}"


def _waiting(state: JobState) -> Iterator[str]:
    for device, line in state.devices.items():
        if line.waiting:
            yield f"{len(line.waiting)} items of device {device} wait for an earlier one that never came."
        if line.given_up:
            yield f"Items of device {device} were given up: {line.given_up}."
    for photo in state.photos.values():
        if photo.read_seq is None:
            yield f"The photo of entry {photo.seq} was not read."


def _absent(job: PackagedJob) -> Iterator[str]:
    for digest, why in sorted(job.withheld.items()):
        yield f"What has the hash {digest[:12]} is not in this package: {_ended(why)}"
    removed = [str(entry.seq) for entry in job.entries if entry.body.get("redacted") is True]
    if removed:
        yield f"Removed at a person's wish, with the chain intact: what entries {', '.join(removed)} said."


def _clocks(job: PackagedJob) -> Iterator[str]:
    for clock in device_clocks(job.entries):
        if abs(clock.offset_s) > CLOCK_OFF_S:
            side = "ahead of" if clock.offset_s > 0 else "behind"
            words = in_words(clock.offset_s)
            yield f"The clock of device {clock.device} ran {words} {side} the service's."
        if clock.late:
            numbers = ", ".join(str(seq) for seq in clock.late)
            yield f"Items of device {clock.device} came late: entries {numbers}."


def _unknown(state: JobState) -> Iterator[str]:
    if state.unknown:
        numbers = ", ".join(str(seq) for seq in state.unknown)
        yield f"Entries of a kind that this program does not know are shown and were not used: {numbers}."


def _ended(sentence: str) -> str:
    return sentence if sentence.endswith((".", "!", "?")) else sentence + "."
