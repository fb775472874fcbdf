"""A machine that walks the procedure and tries to pass hold points that it may not pass.

Beside the job it keeps a model of its own, from what it said, showed and did, and never from what the job says. After
every move: what has passed, has passed rightly by the model; what was stopped, stands.
"""

from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, precondition, rule

from service.domain.entries import NewEntry
from service.domain.incoming import Break, Handover, Judgement, Opinion, Release, Resume, Stop
from service.domain.sight import Served
from tests.service.domain.jobs import PEOPLE, TAG, at, other, right_value

CHECKPOINT = "closed_end"
WORKERS = ("tess", "omar")
EVERYBODY = (*sorted(PEOPLE), "stranger")
STARTS = ("prepare", "prove_dead", "closed_end", "closed_end", "done")


class Job(RuleBasedStateMachine):
    """One job of one checkpoint, with two technicians, one of them also a verifier, a verifier and an engineer."""

    def __init__(self) -> None:
        super().__init__()
        self.rig = None

    @precondition(lambda self: self.rig is None)
    @rule(step=st.sampled_from(STARTS))
    def start(self, step):
        self.rig = at(step)
        procedure = self.rig.state.pinned.procedure
        before = procedure.steps[: procedure.places[step]]
        self.met = {f"{one.id}/{need.id}" for one in before for need in one.needs}
        self.released = {one.id for one in before if one.hold_point}
        self.took_part = {"tess"}
        self.judged: set[str] = {"vera"} if step == "done" else set()
        self.stops: dict[int, str] = {}
        self.claims, self.shown, self.judgement = {}, {}, None
        if step == "done":
            self.claims = self.shown = dict(self.rig.expected(CHECKPOINT))
            self.judgement = "agreed"
        self.reason = ""
        self.passed = {one.id for one in before}

    # --- the model ---------------------------------------------------------------------------------------------------

    def needs(self, step):
        return self.rig.state.pinned.procedure.step(step).needs

    def void(self, *names):
        """Void in the model: the conditions, and every whole step that rests on one of theirs that stood.

        While work is stopped no step passes, so one that was voided and said anew since does not stand.
        """
        procedure = self.rig.state.pinned.procedure
        for name in names:
            step = name.split("/")[0]
            stood = self.rightly(step) and (not self.stops or step in self.passed)
            self.met.discard(name)
            if stood:
                self.passed.discard(step)
                self.released.discard(step)
                for resting in procedure.resting_on(step):
                    self.void_step(resting)

    def void_step(self, step):
        self.met -= {f"{step}/{need.id}" for need in self.needs(step)}
        self.passed.discard(step)
        self.released.discard(step)
        if step == CHECKPOINT:
            self.claims, self.shown, self.judgement = {}, {}, None

    def rightly(self, step) -> bool:
        """Whether the model says that a step may stand as passed."""
        procedure = self.rig.state.pinned.procedure
        plain = [f"{step}/{need.id}" for need in self.needs(step) if need.kind in ("statement", "value")]
        if not set(plain) <= self.met:
            return False
        if procedure.step(step).hold_point and step not in self.released:
            return False
        return step != CHECKPOINT or (self.judgement == "agreed" and (self.all_agree() or bool(self.reason)))

    def all_agree(self) -> bool:
        want = self.rig.expected(CHECKPOINT)
        return self.claims == self.shown == want

    # --- moves -------------------------------------------------------------------------------------------------------

    @precondition(lambda self: self.rig)
    @rule(data=st.data(), confirm=st.booleans(), person=st.sampled_from(WORKERS))
    def say_something_right(self, data, confirm, person):
        current = self.rig.state.current
        plain = [need for need in current.needs if need.kind in ("statement", "value")] if current else []
        if not plain:
            return
        need = current.condition(data.draw(st.sampled_from([need.id for need in plain])))
        slots = dict(need.pattern.slots) | (right_value(need.limits) if need.kind == "value" else {})
        if need.pattern.intent == "travel":
            self.new_attempt()
        (self.rig.say if confirm else self.rig.type)(need.pattern.intent, slots, person=person)
        self.took_part.add(person)
        if confirm and person not in self.judged:
            self.met.add(f"{current.id}/{need.id}")

    def new_attempt(self):
        self.claims, self.shown, self.judgement, self.reason = {}, {}, None, ""

    @precondition(lambda self: self.rig and self.rig.state.current)
    @rule(left_out=st.sampled_from([None, None, 0, 1, 2, 3]))
    def say_everything_right(self, left_out):
        """All that the step asks to be said, but one thing perhaps, so that gates come within reach."""
        current = self.rig.state.current
        for number, need in enumerate(current.needs):
            if number == left_out or need.kind not in ("statement", "value"):
                continue
            if f"{current.id}/{need.id}" in self.met and need.pattern.intent != "travel":
                continue
            if not self.rig.state.is_open(current.id):
                return
            slots = dict(need.pattern.slots) | (right_value(need.limits) if need.kind == "value" else {})
            if need.pattern.intent == "travel":
                self.new_attempt()
            self.rig.say(need.pattern.intent, slots, step=current.id)
            self.took_part.add("tess")
            if "tess" not in self.judged:
                self.met.add(f"{current.id}/{need.id}")

    @precondition(lambda self: self.rig and self.rig.state.is_open(CHECKPOINT))
    @rule(wrong=st.booleans(), judged=st.booleans())
    def bring_all_evidence(self, wrong, judged):
        self.claim(wrong=False, confirm=True)
        self.photograph(wrong=wrong, read=True)
        if judged:
            self.judge(person="vera", right=True, primed=False, opinion="agree")

    @precondition(lambda self: self.rig)
    @rule(data=st.data(), person=st.sampled_from(WORKERS), spoken=st.booleans())
    def deny_something(self, data, person, spoken):
        procedure = self.rig.state.pinned.procedure
        named = {
            f"{step.id}/{need.id}": (step, need)
            for step, need in procedure.conditions()
            if need.kind in ("statement", "value") and need.pattern.intent != "travel"
        }
        step, need = named[data.draw(st.sampled_from(sorted(named)))]
        slots = {**need.pattern.slots, "negated": True}
        (self.rig.speak if spoken else self.rig.type)(need.pattern.intent, slots, person=person)
        self.took_part.add(person)
        if need.stands_until is not None or not self.rig.passed(step.id):
            self.void(f"{step.id}/{need.id}")

    @precondition(lambda self: self.rig)
    @rule(volts=st.sampled_from([1.5, 230, 400]))
    def measure_a_voltage(self, volts):
        slots = {"quantity": "voltage", "from": "line_one", "to": "earth", "value": volts, "unit": "V"}
        self.rig.type("measure", slots)
        self.took_part.add("tess")
        self.void("prove_dead/pair_line_one_earth")

    @precondition(lambda self: self.rig)
    @rule()
    def report_voltage(self):
        self.rig.speak("voltage_present", {})
        self.took_part.add("tess")
        self.void_step("isolate")
        self.void_step("prove_dead")

    @precondition(lambda self: self.rig)
    @rule(person=st.sampled_from(EVERYBODY), handed=st.booleans())
    def pause(self, person, handed):
        if handed:
            refused = self.rig.tries(Handover(person="tess", to=person, reason="shift"))
            assert (refused is None) == (person in WORKERS and person not in self.judged)
            if refused is not None:
                return
            self.took_part |= {"tess", person}
        else:
            self.rig.do(Break(person=person))
        self.void_step("prove_dead")

    @precondition(lambda self: self.rig and self.rig.state.is_open(CHECKPOINT))
    @rule(wrong=st.booleans(), confirm=st.booleans())
    def claim(self, wrong, confirm):
        want = self.rig.expected(CHECKPOINT)
        said = {label: other(state) if wrong and label == "9" else state for label, state in want.items()}
        for state in ("closed", "open"):
            labels = [label for label, one in said.items() if one == state]
            (self.rig.say if confirm else self.rig.type)(
                "contact", {"contacts": labels, "state": state}, person="tess"
            )
        self.took_part.add("tess")
        if "tess" in self.judged:
            return
        for label, state in said.items():
            if confirm:
                self.claims[label] = state
            elif self.claims.get(label) != state:
                self.claims.pop(label, None)

    @precondition(lambda self: self.rig and self.rig.state.is_open(CHECKPOINT))
    @rule(wrong=st.booleans(), read=st.booleans())
    def photograph(self, wrong, read):
        want = self.rig.expected(CHECKPOINT)
        shown = {label: other(state) if wrong and label == "9" else state for label, state in want.items()}
        self.rig.photograph(shown if read else {})
        self.took_part.add("tess")
        self.judgement = None
        if read:
            self.shown = dict(shown)

    @precondition(lambda self: self.rig)
    @rule(data=st.data(), person=st.sampled_from(WORKERS))
    def contradict_late(self, data, person):
        """A claim made before its device learned that the checkpoint had passed."""
        passed = self.rig.state.step(CHECKPOINT).passed
        if passed is None:
            return
        slots = {"contacts": ["17"], "state": data.draw(st.sampled_from(["closed", "open"]))}
        known = data.draw(st.sampled_from([None, passed - 1]))
        self.rig.type("contact", slots, person=person, step=CHECKPOINT, known_seq=known)
        self.took_part.add(person)
        if slots["state"] == "open":
            self.released.discard(CHECKPOINT)
            self.new_attempt()
            for resting in self.rig.state.pinned.procedure.resting_on(CHECKPOINT):
                self.void_step(resting)

    @precondition(lambda self: self.rig)
    @rule(
        person=st.sampled_from(EVERYBODY),
        right=st.booleans(),
        primed=st.booleans(),
        opinion=st.sampled_from(["agree", "disagree", "another_photo", None]),
    )
    def judge(self, person, right, primed, opinion):
        want = self.rig.expected(CHECKPOINT)
        served = (Served(person, "claim", CHECKPOINT, 99, 1),) if primed else ()
        given = Judgement(
            person=person,
            step=CHECKPOINT,
            tag=TAG if right else "XX1",
            required=want,
            seen=want,
            served=served,
        )
        refused = self.rig.tries(given)
        may = "verifier" in PEOPLE[person].roles if person in PEOPLE else False
        if refused is None:
            assert may
            assert person not in self.took_part
            self.judged.add(person)
            if self.judgement != "agreed":
                self.judgement = "given"
        if (
            opinion is None
            or self.rig.tries(Opinion(person=person, step=CHECKPOINT, opinion=opinion)) is not None
        ):
            return
        assert may
        if opinion != "agree":
            self.new_attempt()
        elif refused is None and right and not primed:
            self.judgement = "agreed"

    @precondition(lambda self: self.rig)
    @rule(
        person=st.sampled_from(("tess", "omar", "vera", *EVERYBODY)),
        reason=st.sampled_from(["", "metered by hand"]),
        old=st.sampled_from([False, False, True]),
        ready=st.sampled_from([True, True, True, False]),
        wrong=st.booleans(),
        trick=st.sampled_from([None, None, "stop", "deny", "judge primed", "photo", "judge again"]),
    )
    def release(self, person, reason, old, ready, wrong, trick):
        if ready:
            self.make_ready(wrong)
            self.play(trick, person)
        for gate, role in (("prove_dead", "technician"), (CHECKPOINT, "verifier")):
            before = self.rig.passed(gate)
            head = "an older head" if old else self.rig.state.head
            asked = Release(person=person, step=gate, head=head, fresh_sign_in=True, reason=reason)
            if self.rig.tries(asked) is not None:
                continue
            assert not before
            assert not old
            assert not self.stops
            assert role in PEOPLE[person].roles
            assert gate != CHECKPOINT or person not in self.took_part
            self.released.add(gate)
            if gate == CHECKPOINT:
                self.reason = reason
                self.judged.add(person)
            assert self.rightly(gate), gate

    def make_ready(self, wrong):
        """Bring the gate within reach, so that what is tried next is what decides."""
        if self.rig.state.current is None:
            return
        self.say_everything_right(left_out=None)
        if self.rig.state.is_open(CHECKPOINT):
            self.bring_all_evidence(wrong=wrong, judged=True)

    def play(self, trick, person):
        """Spoil what has been made ready, in one way."""
        if trick == "stop":
            self.stop(person="vera", spoken=False)
        elif not self.rig.state.is_open(CHECKPOINT):
            return
        elif trick == "photo":
            self.photograph(wrong=True, read=True)
        elif trick == "judge primed":
            self.photograph(wrong=False, read=True)
            self.judge(person="vera", right=True, primed=True, opinion="agree")
        elif trick == "judge again":
            self.photograph(wrong=False, read=True)
            self.judge(person=person, right=False, primed=False, opinion="agree")
        elif trick == "deny":
            self.rig.type("contact", {"contacts": ["17"], "state": "closed", "negated": True})
            self.took_part.add("tess")
            if "tess" not in self.judged:
                self.claims.pop("17", None)

    @precondition(lambda self: self.rig)
    @rule(
        step=st.sampled_from(["prepare", "isolate", "prove_dead", CHECKPOINT, "done"]),
        person=st.sampled_from(EVERYBODY),
    )
    def forge(self, step, person):
        """Entries that say that a gate has passed, written past every decision."""
        body = {
            "step": step,
            "head": "forged",
            "mode": "independent",
            "reason": "forged",
            "fresh_sign_in": True,
        }
        self.rig._append(
            [NewEntry("step_passed", {"step": step}), NewEntry("hold_point_released", body, person=person)]
        )

    @precondition(lambda self: self.rig)
    @rule(person=st.sampled_from(EVERYBODY), spoken=st.booleans())
    def stop(self, person, spoken):
        self.passed = {step.id for step in self.rig.state.pinned.procedure.steps if self.rig.passed(step.id)}
        if spoken:
            person = "tess"
            self.rig.speak("control", {"action": "stop_work"}, confidence=0.1)
            self.took_part.add("tess")
        else:
            self.rig.do(Stop(person=person))
        self.stops[self.rig.state.holds[-1].seq] = person

    @precondition(lambda self: self.rig and self.stops)
    @rule(person=st.sampled_from(EVERYBODY), reason=st.sampled_from(["", "looked at it"]), data=st.data())
    def resume(self, person, reason, data):
        seq = data.draw(st.sampled_from(sorted(self.stops)))
        refused = self.rig.tries(Resume(person=person, stop=seq, reason=reason))
        assert (refused is None) == (person == self.stops[seq] and bool(reason))
        if refused is None:
            del self.stops[seq]

    # --- what must always hold -----------------------------------------------------------------------------------

    @invariant()
    def what_has_passed_has_passed_rightly(self):
        if self.rig is None:
            return
        for step in self.rig.state.pinned.procedure.steps:
            if self.rig.passed(step.id):
                assert self.rightly(step.id), step.id

    @invariant()
    def what_is_stopped_stays_stopped_and_passes_nothing(self):
        if self.rig is None:
            return
        now = {step.id for step in self.rig.state.pinned.procedure.steps if self.rig.passed(step.id)}
        assert self.rig.state.stopped == bool(self.stops)
        if self.stops:
            assert now <= self.passed
        self.passed = now

    @invariant()
    def nobody_is_both_part_of_the_job_and_its_judge_without_a_word(self):
        if self.rig is not None:
            released = self.rig.state.step(CHECKPOINT).released
            assert released is None or released.person in self.judged


TestJob = Job.TestCase
TestJob.settings = settings(
    max_examples=120, stateful_step_count=40, deadline=None, suppress_health_check=list(HealthCheck)
)
