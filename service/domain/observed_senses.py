"""Which way handwheel and setting shafts were seen to turn, as it was said and confirmed.

Senses are seen facing the wheel, and facing the slot of a shaft. What is said of "the shafts" holds for every rotor.
"""

from collections.abc import Iterator

from service.domain.chart import ContactChart
from service.domain.job_state import ClaimRecord, JobState
from service.domain.measured_turns import MOVING
from service.domain.setting_advice import HandwheelProof, Observation, Sense

SENSES: dict[str, Sense] = {"clockwise": "clockwise", "counter_clockwise": "counter-clockwise"}
WHEEL = "hand_wheel"


def shaft_observations(state: JobState) -> tuple[Observation, ...]:
    """Return the newest sense of every rotor's setting shaft for each direction of the valve."""
    newest: dict[tuple[str, str], Observation] = {}
    for claim in _told(state):
        slots = claim.statement.slots
        sense = _sense(claim)
        if sense is None or slots.get("item") is not None:
            continue
        towards = MOVING[str(slots["travel"])]
        for rotor in _rotors(state.pinned.chart, slots.get("rotor")):
            newest[rotor, towards] = Observation(rotor, towards, sense)
    return tuple(newest.values())


def handwheel_proofs(state: JobState) -> tuple[HandwheelProof, ...]:
    """Return the newest sense of the handwheel for each direction in which the stem was seen to go."""
    newest: dict[str, HandwheelProof] = {}
    for claim in _told(state):
        sense, towards = _sense(claim), MOVING[str(claim.statement.slots["travel"])]
        if sense is not None and claim.statement.slots.get("item") == WHEEL:
            newest[towards] = HandwheelProof(sense, towards)
    return tuple(newest.values())


def _told(state: JobState) -> Iterator[ClaimRecord]:
    """Yield the confirmed claims on a rotation that name the way of the valve."""
    for claim in state.claims.values():
        rotation = claim.status == "confirmed" and claim.statement.intent == "rotation"
        if rotation and not claim.statement.negated and claim.statement.slots.get("travel") in MOVING:
            yield claim


def _sense(claim: ClaimRecord) -> Sense | None:
    slots = claim.statement.slots
    return SENSES.get(str(slots.get("shafts") or slots.get("sense")).replace("-", "_"))


def _rotors(chart: ContactChart, named: object) -> list[str]:
    if named is None:
        return [rotor.id for rotor in chart.rotors]
    return [rotor.id for rotor in chart.rotors if rotor.id in {str(named), f"R{named}"}]
