"""A machine that marks a stroke, corrects, denies, stops and releases in any order, and tries to pass it wrongly.

Beside the job it keeps a model of its own: which marks stand, when, and what was confirmed. Marks lie at least five
seconds apart, so that no two of them are one. After every move: what has passed has passed rightly by the model, and
the job's judgement is that of the model.
"""

from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, precondition, rule

from service.domain.stroke_judged import judged_stroke
from tests.service.domain.sample_job import at_first_stroke
from tests.service.domain.test_stroke_marks import STEP, iso

DUE_S, DOUBT_S = 7.72, 2.0
"""From 10 % to standstill, and two standard deviations of marks and place: see the tests of the judgement."""
WHATS = {"start": "start", "end": "stop", "now": "moment"}
SPACING_S = 5.0


class Stroke(RuleBasedStateMachine):
    """The closing stroke of the sample job by one technician with one device."""

    def __init__(self) -> None:
        super().__init__()
        self.rig = at_first_stroke()
        self.marks: dict[str, tuple[float, str]] = {}
        self.order: list[str] = []
        self.used: set[float] = set()
        self.met: set[str] = set()
        self.right_lamps = True
        self.last_was_mark = False
        self.waived = False

    @initialize(answered=st.booleans(), right=st.booleans())
    def begin(self, answered, right):
        if answered:
            self.answer_everything(right)

    @property
    def open(self) -> bool:
        return not self.rig.passed(STEP)

    def run(self) -> list[tuple[float, str]]:
        """The newest run of the model: from the last start on; every mark where none has started."""
        ordered = sorted(self.marks.values())
        starts = [place for place, (_, what) in enumerate(ordered) if what == "start"]
        return ordered[starts[-1] :] if starts else ordered

    def took(self) -> float | None:
        times = {what: [at for at, one in self.run() if one == what] for what in ("start", "stop")}
        if len(times["start"]) != 1 or len(times["stop"]) != 1:
            return None
        return times["stop"][0] - times["start"][0]

    def rightly(self) -> bool:
        """Whether the model says that the stroke may be released without a reason."""
        if self.met != {"hand_on_stop", "stopped_by", "lamps"} or self.took() is None:
            return False
        return self.right_lamps and abs(self.took() - DUE_S) <= DOUBT_S

    def complete(self) -> bool:
        return {"stopped_by", "lamps"} <= self.met and self.took() is not None

    @precondition(lambda self: self.open)
    @rule(at=st.sampled_from(sorted(WHATS)), slot=st.integers(0, 40))
    def mark(self, at, slot):
        seconds = slot * SPACING_S
        if any(abs(seconds - used) < 2.0 for used in self.used):
            return
        item = self.rig.type("mark", {"at": at}, step=STEP, device_time=iso(seconds))
        self.used.add(seconds)
        self.marks[item] = (seconds, WHATS[at])
        self.order.append(item)
        self.last_was_mark = True

    @precondition(lambda self: self.open)
    @rule(slot=st.integers(0, 10), took=st.sampled_from([7.8, 7.8, 16.8, 3.8]), back=st.booleans())
    def mark_a_run(self, slot, took, back):
        """Mark start and end, which arrive in either order."""
        begin = slot * 4 * SPACING_S
        if any(abs(at - used) < 2.0 for used in self.used for at in (begin, begin + took)):
            return
        moments = [("start", begin), ("end", begin + took)]
        for at, seconds in reversed(moments) if back else moments:
            item = self.rig.type("mark", {"at": at}, step=STEP, device_time=iso(seconds))
            self.used.add(seconds)
            self.marks[item] = (seconds, WHATS[at])
            self.order.append(item)
        self.last_was_mark = True

    @precondition(lambda self: self.open)
    @rule(right=st.booleans())
    def answer_everything(self, right):
        self.hand_on_stop()
        self.say_the_stop()
        self.say_the_lamps(right)

    @precondition(lambda self: self.open and self.last_was_mark)
    @rule()
    def correct(self):
        self.rig.type("control", {"action": "correction"}, step=STEP)
        gone = self.order.pop()
        self.used.discard(self.marks.pop(gone)[0])
        self.last_was_mark = False

    @precondition(lambda self: self.open)
    @rule()
    def hand_on_stop(self):
        self.rig.say("hand_on_stop", step=STEP)
        self.met.add("hand_on_stop")
        self.last_was_mark = False

    @precondition(lambda self: self.open)
    @rule()
    def say_the_stop(self):
        self.rig.say("trip", {"cause": "limit", "travel": "closing"}, step=STEP, device_time=iso(500))
        self.met.add("stopped_by")
        self.last_was_mark = False

    @precondition(lambda self: self.open and "stopped_by" in self.met)
    @rule()
    def deny_the_stop(self):
        denied = {"cause": "limit", "travel": "closing", "negated": True}
        self.rig.type("trip", denied, step=STEP, device_time=iso(500))
        self.met.discard("stopped_by")
        self.last_was_mark = False

    @precondition(lambda self: self.open)
    @rule(right=st.booleans())
    def say_the_lamps(self, right):
        red, green = ("off", "on") if right else ("on", "off")
        self.rig.say("lamp", {"red": red, "green": green}, step=STEP, device_time=iso(501))
        self.met.add("lamps")
        self.right_lamps = right
        self.last_was_mark = False

    @precondition(lambda self: self.open)
    @rule(person=st.sampled_from(["tess", "vera", "enid"]), reason=st.sampled_from(["", "known to be slow"]))
    def release(self, person, reason):
        refusal = self.rig.release(STEP, person, reason=reason)
        may = person == "tess" and "hand_on_stop" in self.met and self.complete()
        may = may and (self.rightly() or bool(reason))
        assert (refusal is None) == may, refusal
        self.waived = refusal is None and not self.rightly()

    @precondition(lambda self: not self.open)
    @rule()
    def say_so_once_more(self):
        """What is said again after the release changes nothing."""
        self.rig.say("trip", {"cause": "limit", "travel": "closing"}, step=STEP, device_time=iso(600))

    @invariant()
    def judged_as_the_model_judges(self):
        stroke = judged_stroke(self.rig.state, STEP)
        if not self.complete():
            assert stroke is None or stroke.verdict is None or not self.open
            return
        fits = self.right_lamps and abs(self.took() - DUE_S) <= DOUBT_S
        assert stroke.verdict == ("fits" if fits else "differs"), (stroke, self.run())

    @invariant()
    def passed_only_rightly(self):
        if not self.open:
            assert self.complete()
            assert self.rightly() or self.waived

    @invariant()
    def what_is_off_is_said_in_the_open(self):
        stroke = judged_stroke(self.rig.state, STEP)
        if self.open and stroke is not None and stroke.verdict == "differs":
            assert self.rig.status(f"{STEP}/stroke") == "void"
            assert any(entry.kind == "gate_held" for entry in self.rig.entries)


TestStroke = Stroke.TestCase
TestStroke.settings = settings(
    max_examples=40, stateful_step_count=8, deadline=None, suppress_health_check=list(HealthCheck)
)
