"""Which way to turn a setting shaft, how far, and when not to say.

Senses are seen facing the slot of the shaft. The sense that counts for a rotor is the one observed on its
setting shaft while hand drive moves the valve in the rotor's own trip direction. To trip the rotor here, if
it has not tripped, turn its shaft in that same sense until it just snaps; if it has tripped, turn it the
other way until it resets, then come back until it just snaps (common practice, no source).

No advice is given while observations contradict each other, while the handwheel's closing sense has not been
proved on the stem, before both end rotors have shown their mid-travel state, or where the valve does not
stand at the rotor's set point, reached in its trip direction.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Literal

from service.domain.back_off import MarginAdvice, Way
from service.domain.chart import ContactChart, Rotor
from service.domain.figures import within
from service.domain.refusals import BadDefinition
from service.domain.travel import Direction, Travel
from service.domain.travel_scale import TravelScale

Sense = Literal["clockwise", "counter-clockwise"]
Turn = Literal["clockwise", "counter-clockwise", "none"]
Until = Literal["trips", "resets"]
Goal = Literal["set_here", "mid_travel"]


@dataclass(frozen=True, slots=True)
class Observation:
    """The sense in which a rotor's setting shaft turned while hand drive moved the valve in a direction."""

    rotor: str
    valve_towards: Direction
    sense: Sense


@dataclass(frozen=True, slots=True)
class HandwheelProof:
    """A sense of the handwheel, seen facing it, and where the valve's stem was seen to go."""

    sense: Sense
    stem_towards: Direction


@dataclass(frozen=True)
class Situation:
    """What is known while an end or an auxiliary trip is being set.

    `tripped` gives per rotor whether it is tripped now; `trips_now_at_pct` where it is known to trip as it is
    set now. `arrived_towards` is the direction of the last valve movement, `way` the named way of setting the
    end, `true_margin_pct` what its back-off leaves to the hard stop, where the back-off was counted.
    """

    travel: Travel
    arrived_towards: Direction | None
    tripped: dict[str, bool]
    observations: tuple[Observation, ...] = ()
    handwheel: tuple[HandwheelProof, ...] = ()
    goal: Goal = "set_here"
    way: Way = "on_approach"
    mid_travel_shown: bool = False
    moved_while_released: bool = False
    tolerance_pct: float = 0.5
    trips_now_at_pct: dict[str, float] = field(default_factory=dict)
    margin: MarginAdvice | None = None
    true_margin_pct: float | None = None

    def __post_init__(self) -> None:
        within(self.tolerance_pct, 0.0, 50.0, "tolerance_pct", "The tolerance of the set point in percent")
        for rotor, pct in self.trips_now_at_pct.items():
            within(pct, -100.0, 200.0, f"trips_now_at_pct.{rotor}", f"Where {rotor} trips now, in percent,")
        refuse_contradictions(self.observations, self.handwheel)


@dataclass(frozen=True, slots=True)
class Advice:
    """What to do with one setting shaft: which way, until what, how many turns (None: not known), and why."""

    rotor: str
    turn: Turn
    until: Until | None
    turns: float | None
    reason: str


def refuse_contradictions(observations: Sequence[Observation], handwheel: Sequence[HandwheelProof]) -> None:
    """Refuse observations that cannot all be true: one movement turns a shaft one way, the reverse the other.

    Raises
    ------
    BadDefinition
        Two observations contradict each other; no advice is given until they are made again.

    """
    for number, later in enumerate(observations):
        for earlier in observations[:number]:
            if later.rotor == earlier.rotor and _contradict(
                (earlier.valve_towards, earlier.sense), (later.valve_towards, later.sense)
            ):
                raise BadDefinition(
                    f"The setting shaft of rotor {later.rotor} turned {earlier.sense} while the valve moved "
                    "towards "
                    f"{earlier.valve_towards} and {later.sense} while it moved towards "
                    f"{later.valve_towards}: these "
                    "contradict each other. Observe both again; no advice until then.",
                    field=f"observations[{number}].sense",
                )
    for number, proof in enumerate(handwheel):
        for before in handwheel[:number]:
            if _contradict((before.stem_towards, before.sense), (proof.stem_towards, proof.sense)):
                raise BadDefinition(
                    f"The handwheel turned {before.sense} moved the stem towards {before.stem_towards} and "
                    "turned "
                    f"{proof.sense} towards {proof.stem_towards}: these contradict each other. Prove both "
                    "again.",
                    field=f"handwheel[{number}].sense",
                )


def advise(chart: ContactChart, situation: Situation, scale: TravelScale | None = None) -> tuple[Advice, ...]:
    """Return the advice for every rotor of the chart, in the chart's order.

    Raises
    ------
    BadDefinition
        The situation speaks of a rotor that the chart does not have.

    """
    known = {rotor.id for rotor in chart.rotors}
    named = {
        **{f"tripped.{name}": name for name in situation.tripped},
        **{f"trips_now_at_pct.{name}": name for name in situation.trips_now_at_pct},
        **{f"observations[{n}].rotor": seen.rotor for n, seen in enumerate(situation.observations)},
    }
    for where, name in named.items():
        if name not in known:
            raise BadDefinition(f"The chart has no rotor {name}.", field=where)
    by_limit = {f"{end}_end" for end in ("closed", "open") if getattr(chart, f"{end}_end") == "limit"}
    return tuple(
        advise_rotor(rotor, situation, scale, limit_seated=rotor.role in by_limit) for rotor in chart.rotors
    )


def advise_rotor(
    rotor: Rotor, situation: Situation, scale: TravelScale | None = None, *, limit_seated: bool = False
) -> Advice:
    """Return the advice for one rotor; `turn` is "none" wherever nothing is to be turned.

    `limit_seated` says that this rotor stops the drive at its end, so that the margin counts.
    """
    reason = _why_not(rotor, situation)
    if limit_seated and reason is None and situation.goal == "set_here":
        reason = _why_not_with_this_margin(rotor, situation)
    if reason:
        return Advice(rotor.id, "none", None, None, reason)
    sense = _sense_of(rotor, situation)
    if sense is None:
        return Advice(
            rotor.id, "none", None, None,
            f"Observe the setting shaft of {rotor.id} while hand drive moves the valve towards "
            f"{rotor.trips_towards}, "
            "its own trip direction; the sense is observed, not inferred from the other direction.",
        )  # fmt: skip
    one_only = "" if _both_senses(rotor, situation) else " Only one of its two senses was observed."
    if situation.way == "after_backing_off":
        one_only += (
            " Set after backing off, the true margin is the back-off less the lost motion; measure it on "
            "the next "
            "approach."
        )
    if situation.goal == "mid_travel":
        return Advice(
            rotor.id, reverse(sense), "resets", None,
            f"{rotor.id} is tripped at mid travel: turn its shaft against its trip sense until it resets, "
            "then a few "
            f"turns more, and set its end later there.{one_only}",
        )  # fmt: skip
    return _at_the_set_point(rotor, situation, sense, scale, one_only)


def reverse(sense: Sense) -> Sense:
    """Return the other sense."""
    return "counter-clockwise" if sense == "clockwise" else "clockwise"


def _at_the_set_point(
    rotor: Rotor, situation: Situation, sense: Sense, scale: TravelScale | None, note: str
) -> Advice:
    if not situation.tripped[rotor.id]:
        return Advice(
            rotor.id, sense, "trips", _shaft_turns(rotor, situation, scale, 0.0),
            f"{rotor.id} has not tripped here: turn its shaft {sense}, as it turned while the valve moved "
            "towards "
            f"{rotor.trips_towards}, until it just snaps.{note}",
        )  # fmt: skip
    back = reverse(sense)
    return Advice(
        rotor.id, back, "resets", _shaft_turns(rotor, situation, scale, rotor.differential_pct),
        f"{rotor.id} has tripped already: turn its shaft {back} until it resets, then come back {sense} "
        "until it just "
        f"snaps.{note}",
    )  # fmt: skip


def _why_not(rotor: Rotor, situation: Situation) -> str | None:
    """Return why nothing is to be turned on this rotor now, in the order in which a technician would ask."""
    if situation.moved_while_released:
        return (
            "The valve moved while the setting gear was released: both ends are void. Bring both end "
            "rotors to their "
            "mid-travel state at mid travel again, then set each end anew."
        )
    if not any(proof.stem_towards == "closed" for proof in situation.handwheel):
        return "Prove the handwheel's closing sense on the stem first; it is never assumed."
    if rotor.id not in situation.tripped:
        return f"Whether {rotor.id} is tripped now is not stated."
    if situation.goal == "mid_travel":
        return _why_not_at_mid_travel(rotor, situation)
    return _why_not_at_the_set_point(rotor, situation)


def _why_not_at_mid_travel(rotor: Rotor, situation: Situation) -> str | None:
    if rotor.role == "auxiliary":
        return f"{rotor.id} is an auxiliary rotor: it is set at its own trip point, after both ends."
    if not 25.0 <= situation.travel.pct <= 75.0:
        return f"The valve stands at {situation.travel.pct:.3g} %; bring it between 25 and 75 % first."
    return None if situation.tripped[rotor.id] else f"{rotor.id} is in its mid-travel state: nothing to turn."


def _why_not_at_the_set_point(rotor: Rotor, situation: Situation) -> str | None:
    if not situation.mid_travel_shown:
        return "Both end rotors are shown in their mid-travel state at mid travel before any fine setting."
    away = abs(situation.travel.pct - rotor.trip_pct)
    if away > situation.tolerance_pct:
        return (
            f"The valve stands at {situation.travel.pct:.3g} %; {rotor.id} is set at {rotor.trip_pct:g} %, "
            "reached "
            f"moving towards {rotor.trips_towards}."
        )
    now = situation.trips_now_at_pct.get(rotor.id)
    if now is not None and situation.arrived_towards == rotor.trips_towards:
        passed = situation.travel.pct >= now if rotor.trips_towards == "open" else situation.travel.pct <= now
        if passed != situation.tripped[rotor.id]:
            return (
                f"{rotor.id} is said to trip at {now:g} % as it is set, and to be "
                f"{'tripped' if situation.tripped[rotor.id] else 'not tripped'} at {situation.travel.pct:.3g} "
                "%: "
                "these contradict each other. Look again."
            )
    if situation.way == "on_approach" and situation.arrived_towards != rotor.trips_towards:
        return (
            f"Take the lost motion out first: move away, come again towards {rotor.trips_towards} to "
            f"{rotor.trip_pct:g} %, then set."
        )
    return None


def _why_not_with_this_margin(rotor: Rotor, situation: Situation) -> str | None:
    """Return why an end is not set: no margin can be advised, or set point or back-off leaves less than it."""
    margin, backed_off = situation.margin, situation.true_margin_pct
    if margin is None:
        return None
    if margin.margin_pct is None:
        return margin.reason
    short_of = 100.0 - rotor.trip_pct if rotor.trips_towards == "open" else rotor.trip_pct
    if short_of < margin.margin_pct:
        return (
            f"The chart sets {rotor.id} {short_of:.3g} % short of the hard stop; {margin.margin_pct:.3g} % "
            "is needed, "
            f"or the drive coasts into it. {margin.reason} Change the chart first."
        )
    if backed_off is not None and backed_off < margin.margin_pct:
        return (
            f"The back-off leaves {backed_off:.3g} % to the hard stop; {margin.margin_pct:.3g} % is needed. "
            f"{margin.reason} Back off further."
        )
    return None


def _sense_of(rotor: Rotor, situation: Situation) -> Sense | None:
    return next(
        (
            seen.sense
            for seen in situation.observations
            if seen.rotor == rotor.id and seen.valve_towards == rotor.trips_towards
        ),
        None,
    )


def _both_senses(rotor: Rotor, situation: Situation) -> bool:
    return len({seen.valve_towards for seen in situation.observations if seen.rotor == rotor.id}) == 2


def _shaft_turns(
    rotor: Rotor, situation: Situation, scale: TravelScale | None, beyond_pct: float
) -> float | None:
    """Return the shaft turns that bring the trip point to here, plus `beyond_pct` of travel."""
    now = situation.trips_now_at_pct.get(rotor.id)
    if now is None or scale is None or scale.setting_shaft is None:
        return None
    return scale.turns(abs(situation.travel.pct - now) + beyond_pct, "setting_shaft")


def _contradict(one: tuple[Direction, Sense], other: tuple[Direction, Sense]) -> bool:
    return (one[0] == other[0]) != (one[1] == other[1])
