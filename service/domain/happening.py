"""The events of a procedure: when they happen, and what they make void."""

from service.domain.job_state import JobState
from service.domain.needs import may_stand
from service.domain.procedure import Event
from service.domain.voiding import void_steps


def has_come(state: JobState, event: Event) -> bool:
    """Return whether an event can happen now: after and until the steps it names, while what it names may stand."""
    if event.after is not None and state.step(event.after).passed is None:
        return False
    if event.until is not None and state.step(event.until).passed is not None:
        return False
    return all(may_stand(state, pattern) for pattern in event.while_said)


def let_happen(
    state: JobState, happening: str, cause: tuple[int, str], before: JobState | None = None
) -> JobState:
    """Let the events happen that an entry or change of this kind brings with it.

    `before` is the state by which it is judged whether an event can happen, where that is not the present one.
    """
    for event in state.pinned.procedure.events:
        if event.happening == happening and has_come(before or state, event):
            state = void_steps(state, event.voids, event.says, cause)
    return state


def return_to_isolation(before: JobState, after: JobState, cause: tuple[int, str]) -> JobState:
    """Send the job back to isolation where a step that is done under isolation opened again."""
    steps = before.pinned.procedure.steps
    reopened = any(
        step.isolated and before.step(step.id).passed is not None and after.step(step.id).passed is None
        for step in steps
    )
    return let_happen(after, "isolated_step_reopened", cause, before) if reopened else after
