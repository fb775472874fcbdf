"""Where the valve stands, as far as it was said: travel in percent with its uncertainty and its evidence.

Turns of the handwheel become percent by the total counted on this valve. Lost motion moves nothing: it is taken off
the turns after a reversal. Whatever the motor moves is not counted by hand, so the place is unknown from then on until
somebody states it again.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

from service.domain.chart import ContactChart
from service.domain.job_state import ClaimRecord, JobState
from service.domain.measured_turns import MOVING, MeasuredTurns, end_set_by, measured_turns
from service.domain.travel import Direction, Evidence, Travel, opposite

COUNT_SIGMA_TURNS = 0.125
"""How closely a count of handwheel turns is told: half of a quarter turn; from memory, a site confirms."""
STATED_SIGMA_PCT = 1.0
"""How closely a pointer is read, in percent of travel; from memory, a site confirms."""
MID_SIGMA_PCT = 25.0 / math.sqrt(3.0)
"""Mid travel is anywhere between 25 and 75 %: the standard deviation of an even spread over that."""
FULL = {"full_closed": 0.0, "on_seat": 0.0, "full_open": 100.0}
MOVED_BY = {"moving_closed": "closed", "moving_open": "open"}
INTENTS = ("travel", "turns", "rotation", "trip")

Keep = Callable[[ClaimRecord], bool]


@dataclass(frozen=True, slots=True)
class Place:
    """A place of the valve: percent open, its standard deviation in percent, and how it is known.

    `turns` are handwheel turns of real movement from the end `from_end`, where it was counted from one; `item` is the
    claim that told it last.
    """

    pct: float
    sigma_pct: float
    evidence: Evidence
    item: str
    from_end: Direction | None = None
    turns: float | None = None

    @property
    def travel(self) -> Travel:
        """The travel with two standard deviations as the half-width of its doubt."""
        return Travel(self.pct, 2.0 * self.sigma_pct, self.evidence)


@dataclass(frozen=True, slots=True)
class PresentTravel:
    """What is known of the valve's place now; `place` None: not known, for the reason in `why`.

    `arrived_towards` is the direction of the last movement that was said; `questions` name what does not fit.
    """

    place: Place | None
    arrived_towards: Direction | None
    why: str
    questions: tuple[str, ...] = ()


def present_travel(state: JobState, keep: Keep = lambda _claim: True) -> PresentTravel:
    """Return the place by the confirmed claims that are kept, in the order in which they were applied."""
    walk = _Walk(state.pinned.chart, measured_turns(state))
    for claim in state.claims.values():
        if claim.statement.intent in INTENTS and keep(claim):
            walk.take(state, claim)
    return PresentTravel(walk.place, walk.towards, walk.why, tuple(walk.questions))


class _Walk:
    """Goes through the claims and keeps the place that follows from them."""

    def __init__(self, chart: ContactChart, measured: MeasuredTurns) -> None:
        self.chart, self.measured = chart, measured
        self.place: Place | None = None
        self.towards: Direction | None = None
        self.why = "Nobody has said yet where the valve stands."
        self.questions: list[str] = []
        self._came: Direction | None = None

    def take(self, state: JobState, claim: ClaimRecord) -> None:
        """Take one claim; what was denied makes the place unknown, what is not confirmed changes nothing."""
        if claim.statement.negated:
            if claim.status == "acted" and claim.statement.intent == "travel":
                self._lose("It was said where the valve does not stand.")
            return
        if claim.status != "confirmed":
            return
        slots = claim.statement.slots
        if claim.statement.intent == "travel":
            self._travel(state, claim)
        elif claim.statement.intent == "turns" and _counts_the_whole(state, claim):
            self._lose("The valve was turned from stop to stop; at which end it stands now was not said.")
        elif claim.statement.intent == "turns" and self.place is not None:
            self._turned(slots.get("more", slots.get("value")), claim.item)
        elif claim.statement.intent == "rotation" and slots.get("item") == "motor":
            self._lose("The motor has moved the valve since its place was last said.")
        elif claim.statement.intent == "trip" and slots.get("travel") in MOVING:
            self._tripped(MOVING[str(slots["travel"])], slots.get("cause"), claim.item)

    def _lose(self, why: str) -> None:
        self.place, self.why = None, why

    def _travel(self, state: JobState, claim: ClaimRecord) -> None:
        slots = claim.statement.slots
        position = slots.get("position")
        if position in MOVED_BY:
            self.towards = MOVED_BY[str(position)]  # type: ignore[assignment]
        elif position in FULL:
            self._at_end("closed" if FULL[str(position)] == 0.0 else "open", claim.item)
        elif position == "mid_travel":
            self._state(Place(50.0, MID_SIGMA_PCT, "stated", claim.item))
        elif position == "backed_off":
            self._back_off(state, claim)
        elif _number(slots.get("percent")) is not None and 0.0 <= float(slots["percent"]) <= 100.0:
            self._state(Place(float(slots["percent"]), STATED_SIGMA_PCT, "stated", claim.item))

    def _state(self, place: Place) -> None:
        before = self.place
        if before is not None and before.evidence == "counted" and place.sigma_pct <= STATED_SIGMA_PCT:
            apart = abs(before.pct - place.pct)
            if apart > 2.0 * math.hypot(before.sigma_pct, place.sigma_pct):
                self.questions.append(
                    f"{place.pct:g} % is said where the counted turns make it {before.pct:.1f} %. Which is right?"
                )
        self.place = place

    def _at_end(self, end: Direction, item: str) -> None:
        sigma = self.measured.pct(COUNT_SIGMA_TURNS)
        pct = 0.0 if end == "closed" else 100.0
        self.place = Place(pct, STATED_SIGMA_PCT if sigma is None else sigma, "counted", item, end, 0.0)
        self._came = end

    def _back_off(self, state: JobState, claim: ClaimRecord) -> None:
        """Place the valve turns back from the end that the claim's step is about, or that it came from last."""
        turns = _number(claim.statement.slots.get("turns"))
        places = state.pinned.procedure.places
        at = None if claim.step is None else places.get(claim.step)
        step = None if at is None else state.pinned.procedure.steps[at]
        end = (end_set_by(state, step) if step else None) or self._came
        if turns is None or end is None:
            return self._lose("The valve was backed off, but from which end was not said.")
        reached = step.checkpoint.direction if step and step.checkpoint else self.towards
        slack_out = claim.statement.slots.get("slack") == "out" or reached == end
        moved = turns if slack_out else max(0.0, turns - self.measured.lost.get(opposite(end), 0.0))
        return self._from_end(end, moved, COUNT_SIGMA_TURNS, claim.item)

    def _turned(self, said: object, item: str) -> None:
        turns, before = _number(said), self.place
        if turns is None or before is None:
            return None
        if before.from_end is None or before.turns is None or self.towards is None:
            return self._lose("Turns were counted from a place that was not counted itself.")
        if self.towards != before.from_end and before.turns == 0.0:
            turns = max(0.0, turns - self.measured.lost.get(self.towards, 0.0))
        moved = before.turns + (turns if self.towards != before.from_end else -turns)
        return self._from_end(before.from_end, moved, COUNT_SIGMA_TURNS, item, before)

    def _from_end(
        self, end: Direction, moved: float, sigma_turns: float, item: str, before: Place | None = None
    ) -> None:
        pct, sigma = self.measured.pct(moved), self.measured.pct(sigma_turns)
        if pct is None or sigma is None:
            return self._lose("Turns are percent only once they were counted from stop to stop.")
        if not -2.0 * sigma <= pct <= 100.0 + 2.0 * sigma:
            return self._lose(f"{moved:g} turns from the {end} end lie outside the turns from stop to stop.")
        inside = min(100.0, max(0.0, pct))
        if before is not None:
            sigma = math.hypot(before.sigma_pct, sigma)
        at = inside if end == "closed" else 100.0 - inside
        self.place = Place(at, sigma, "counted", item, end, moved)
        return None

    def _tripped(self, towards: Direction, cause: object, item: str) -> None:
        """A stroke has ended: between the trip point and the hard stop where the limit stopped it, else on the seat."""
        self._at_end(towards, item)
        self.towards = towards
        trips = [rotor.trip_pct for rotor in self.chart.rotors if rotor.role == f"{towards}_end"]
        if cause != "limit" or not trips or self.place is None:
            return
        short = trips[0] if towards == "closed" else 100.0 - trips[0]
        middle = short / 2.0 if towards == "closed" else 100.0 - short / 2.0
        self.place = replace(
            self.place,
            pct=middle,
            sigma_pct=short / math.sqrt(12.0),
            evidence="stated",
            from_end=None,
            turns=None,
        )


def _counts_the_whole(state: JobState, claim: ClaimRecord) -> bool:
    """Return whether turns were said for a step that asks for the count from stop to stop."""
    asking = state.pinned.by_intent.get("turns", ())
    return any(step.id == claim.step and need.kind == "value" for step, need in asking)


def _number(value: object) -> float | None:
    if isinstance(value, bool) or not isinstance(value, int | float):
        return None
    return float(value) if math.isfinite(value) else None
