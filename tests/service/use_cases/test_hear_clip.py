from service.definitions.procedure import load_procedure, shipped_procedure, shipped_procedures
from service.domain.job_state import JobState
from service.use_cases.hear_clip import ALWAYS, intents_at
from tests.service.domain.jobs import pinned


def test_what_may_restrict_is_listened_for_at_every_step_of_every_shipped_procedure():
    for name in shipped_procedures():
        procedure = load_procedure(shipped_procedure(name))
        events = {pattern.intent for event in procedure.events for pattern in event.when}
        state = JobState(pinned("one_checkpoint"))
        for step in state.pinned.procedure.steps:
            assert set(ALWAYS) <= set(intents_at(state, step.id))
        assert events  # each shipped procedure names what sends a job back


def test_a_checkpoint_listens_for_contacts_and_a_step_for_what_it_asks():
    state = JobState(pinned())
    assert "contact" in intents_at(state, "closed_end")
    assert "tag" in intents_at(state, "prepare")
    assert "tag" not in intents_at(state, "closed_end")


def test_a_clip_without_a_step_is_heard_at_the_open_one():
    state = JobState(pinned())
    assert intents_at(state, None) == intents_at(state, state.current.id)
