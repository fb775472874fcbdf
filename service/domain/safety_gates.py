"""The table of safety gates: what each needs at least, after which others it comes, and who releases it.

The sources stand beside the steps of the shipped procedures (`practice`); what is marked there as common practice has
none.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field

from service.domain.people import Role
from service.domain.procedure import ConditionKind, ForEach


@dataclass(frozen=True)
class Need:
    """What a gate needs at least: a condition of that kind, on that intent with those slots, for those parts."""

    kind: ConditionKind
    says: str
    intent: str | None = None
    slots: Mapping[str, object] = field(default_factory=dict)
    for_each: ForEach | None = None
    same_person: bool = False
    limited: tuple[float | None, float | None] = (None, None)


@dataclass(frozen=True)
class Gate:
    """One gate of the safety order; `one_checkpoint` for those that even the smallest procedure has."""

    name: str
    says: str
    after: tuple[str, ...] = ()
    needs: tuple[Need, ...] = ()
    released_by: Role | None = None
    independent: bool = False
    one_checkpoint: bool = False


@dataclass(frozen=True)
class WayBack:
    """An event that a procedure must have: it happens so, and makes at least these gates void."""

    id: str
    says: str
    voids: tuple[str, ...]
    intent: str | None = None
    slots: Mapping[str, object] = field(default_factory=dict)
    happening: str | None = None
    one_checkpoint: bool = False


def _said(intent: str, says: str, **slots: object) -> Need:
    return Need("statement", says, intent, slots)


def _each(part: ForEach, intent: str, says: str, **slots: object) -> Need:
    return Need("statement", says, intent, slots, part)


GATES: tuple[Gate, ...] = (
    Gate(
        "identify",
        "the valve's tag is read back",
        needs=(_said("tag", "the valve's tag", of="valve", value="$tag"),),
        one_checkpoint=True,
    ),
    Gate(
        "permit",
        "permit, area and gas are recorded",
        after=("identify",),
        needs=(
            _said("tag", "the permit's number", of="permit"),
            Need(
                "value",
                "the gas reading, with its expiry",
                "measure",
                {"quantity": "gas"},
                limited=(None, 10),
            ),
        ),
    ),
    Gate(
        "isolate",
        "every source is off, locked and tagged, and a start was tried",
        after=("identify", "permit"),
        needs=(
            _each("sources", "isolation", "each source off", state="off"),
            _each("sources", "isolation", "each source locked", item="lock", state="on"),
            _each("sources", "isolation", "each source tagged", item="tag", state="on"),
            _said("isolation", "a start was tried", item="start_attempt", state="no_start"),
        ),
        one_checkpoint=True,
    ),
    Gate(
        "stored_energy",
        "stored mechanical energy is relieved or blocked",
        after=("isolate",),
        needs=(
            _said("isolation", "process pressure relieved", item="pressure", state="relieved"),
            _said("isolation", "springs blocked", item="spring", state="blocked"),
            _said("isolation", "the stem blocked", item="stem", state="blocked"),
        ),
    ),
    Gate(
        "cover_off",
        "the marked waiting time and the capacitors come before the cover",
        after=("isolate", "stored_energy"),
        needs=(
            Need("value", "the marked waiting time", "waited", limited=(0, None)),
            _said("isolation", "capacitors discharged", item="capacitors", state="discharged"),
            _said("cover", "the cover off", item="cover", state="off"),
        ),
    ),
    Gate(
        "prove_dead",
        "proved dead, tester proved before and after",
        after=("isolate", "stored_energy", "cover_off"),
        needs=(
            _said("tester", "the tester proved before", result="live", when="before"),
            Need(
                "value", "every phase pair and earth", "measure", for_each="phase_readings", limited=(0, 50)
            ),
            Need("value", "every foreign circuit", "measure", for_each="foreign_circuits", limited=(0, 50)),
            _said("tester", "the tester proved after", result="live", when="after"),
        ),
        released_by="technician",
        one_checkpoint=True,
    ),
    Gate(
        "as_found",
        "as found is recorded before anything is set",
        after=("prove_dead",),
        needs=(Need("record", "every contact as found"),),
    ),
    Gate("both_mid", "both end rotors are in their mid-travel state first", after=("as_found",)),
    Gate(
        "closed_gear",
        "the setting gear is engaged again at the closed end, and the other end looked at again",
        after=("both_mid",),
        needs=(
            _said("gear", "setting gear engaged", item="setting_gear", state="engaged"),
            _said("wiggle_check", "the wiggle check", result="good"),
            _said("other_end", "the other end looked at again", state="unmoved"),
        ),
    ),
    Gate(
        "open_gear",
        "the setting gear is engaged again at the open end, and the other end looked at again",
        after=("both_mid",),
        needs=(
            _said("gear", "setting gear engaged", item="setting_gear", state="engaged"),
            _said("wiggle_check", "the wiggle check", result="good"),
            _said("other_end", "the other end looked at again", state="unmoved"),
        ),
    ),
    Gate(
        "hand_proof",
        "trips are counted twice by hand and the stop contacts metered",
        after=("closed_gear", "open_gear"),
        needs=(_each("stop_contacts", "metered", "each stop contact metered"),),
    ),
    Gate(
        "as_left",
        "as left is judged at mid travel and everything counted out",
        after=("hand_proof",),
        needs=(
            Need("findings", "every judged contact agreed"),
            Need("equal", "the torque setting unchanged, jumpers, wires and tools as many as before"),
        ),
    ),
    Gate(
        "release",
        "a second person judged blind and released",
        after=("prove_dead", "as_left"),
        needs=(
            Need("findings", "every judged contact agreed"),
            Need("judgement", "a second person's blind judgement"),
        ),
        released_by="verifier",
        independent=True,
        one_checkpoint=True,
    ),
    Gate(
        "close_up",
        "joint faces, wires, plates and every bolt before the cover counts as closed",
        after=("release",),
        needs=(
            _said("cover", "joint faces clean", item="joint_faces", state="clean"),
            _said("cover", "joint faces undamaged", item="joint_faces", state="undamaged"),
            _said("cover", "wires clear", item="wires", state="clear"),
            _said("cover", "plates shut", item="plates", state="shut"),
            _said("cover", "the cover on", item="cover", state="on"),
            _said("cover", "every bolt fitted", item="bolts", state="fitted"),
            _said("cover", "bolts torqued in pattern", item="bolts", state="torqued"),
        ),
        released_by="technician",
    ),
    Gate(
        "restore_power",
        "people clear, each lock removed by its owner, the cover closed",
        after=("release", "close_up"),
        needs=(
            _said("isolation", "people clear and warned", item="people", state="clear"),
            Need(
                "statement",
                "each lock removed by its owner",
                "isolation",
                {"item": "lock", "state": "off"},
                "sources",
                same_person=True,
            ),
            _each("sources", "isolation", "each source on", state="on"),
        ),
        released_by="technician",
    ),
    Gate(
        "direction_check",
        "the direction of rotation, at mid travel, before any approach to an end",
        after=("restore_power",),
        needs=(
            _said("hand_on_stop", "a hand on the proved stop"),
            Need("value", "started between 25 and 75 %", "travel", {"of": "open"}, limited=(25, 75)),
            _said("rotation", "the motor turns the right way", item="motor", state="right_way"),
            _said("rotation", "the handwheel stands still", item="hand_wheel", state="held"),
        ),
        released_by="technician",
    ),
    Gate(
        "tenth_closing",
        "the first approach to closed stopped with about a tenth left",
        after=("direction_check",),
        needs=(Need("value", "stopped near 10 %", "travel", {"of": "open"}, limited=(5, 15)),),
        released_by="technician",
    ),
    Gate(
        "stroke_closing",
        "closing, stopped by what the chart names",
        after=("tenth_closing",),
        needs=(_said("trip", "tripped on limit, closing", cause="limit", travel="closing"),),
    ),
    Gate(
        "tenth_opening",
        "the first approach to open stopped with about a tenth left",
        after=("direction_check",),
        needs=(Need("value", "stopped near 90 %", "travel", {"of": "open"}, limited=(85, 95)),),
        released_by="technician",
    ),
    Gate(
        "stroke_opening",
        "opening, stopped by what the chart names",
        after=("tenth_opening",),
        needs=(_said("trip", "tripped on limit, opening", cause="limit", travel="opening"),),
    ),
    Gate(
        "hand_back",
        "indications confirmed, interlocks restored, permit handed in",
        after=("stroke_closing", "stroke_opening"),
        needs=(
            _said("hand_back", "indications confirmed", item="indication", state="confirmed"),
            _said("hand_back", "interlocks restored", item="interlocks", state="restored"),
            _said("hand_back", "the permit handed in", item="permit", state="handed_in"),
        ),
        released_by="technician",
    ),
)

TO_ISOLATION = ("isolate", "prove_dead", "as_left", "release", "close_up", "restore_power", "direction_check")

WAYS_BACK: tuple[WayBack, ...] = (
    WayBack(
        "voltage_present",
        "voltage was reported",
        ("isolate", "prove_dead"),
        "voltage_present",
        one_checkpoint=True,
    ),
    WayBack(
        "break_taken",
        "a break voids dead proof",
        ("prove_dead",),
        happening="break_taken",
        one_checkpoint=True,
    ),
    WayBack(
        "handed_over", "a handover voids it", ("prove_dead",), happening="handed_over", one_checkpoint=True
    ),
    WayBack(
        "wrong_direction",
        "the motor turned the wrong way",
        TO_ISOLATION,
        "rotation",
        {"item": "motor", "state": "wrong_way"},
    ),
    WayBack(
        "torque_stop", "torque stopped where the limit should", TO_ISOLATION, "trip", {"cause": "torque"}
    ),
    WayBack(
        "cover_reopened",
        "the cover was opened again",
        TO_ISOLATION,
        "cover",
        {"item": "cover", "state": "off"},
    ),
    WayBack(
        "step_reopened",
        "work under isolation is to be done again",
        ("isolate", "prove_dead", "release", "close_up", "restore_power"),
        happening="isolated_step_reopened",
    ),
    WayBack(
        "moved_while_released",
        "the valve moved while the gear was released",
        ("closed_gear", "open_gear"),
        "turns",
    ),
    WayBack(
        "early_motion", "the motor ran before the release", ("isolate", "prove_dead"), "mark", {"at": "start"}
    ),
)
