"""From a procedure as written to the procedure of one valve: conditions repeated for its circuits, rotors by name.

For n conductors there are n + n(n-1)/2 readings to prove: each to earth and each pair; three phases give six.
"""

from collections.abc import Mapping
from dataclasses import replace
from itertools import combinations
from types import MappingProxyType
from typing import Any, cast

from service.domain.actuator import Actuator
from service.domain.chart import ContactChart
from service.domain.circuits import Circuits
from service.domain.expected import Expected, RotorState, expected_at_checkpoint, possibly_tripped
from service.domain.people import Person
from service.domain.pinned import PinnedJob, SiteRules, Valve
from service.domain.procedure import Checkpoint, Condition, ForEach, Limits, Procedure, Step
from service.domain.refusals import BadDefinition
from service.domain.statements import OWN_TAG, pattern_of, plain_tag, rotor_number
from service.domain.travel import Travel

FOREIGN = ("foreign", "heater", "interlock", "remote")
ROTORS_OF: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "auxiliary_rotors": ("auxiliary",),
        "end_rotors": ("closed_end", "open_end"),
        "closed_end_rotors": ("closed_end",),
        "open_end_rotors": ("open_end",),
    }
)
CONDUCTORS = ("line_one", "line_two", "line_three")
Part = dict[str, Any]


def pin_job(  # noqa: PLR0913 - a job is pinned from all of these, each by name
    *,
    job: str,
    site: str,
    valve: Valve,
    chart: ContactChart,
    procedure: Procedure,
    people: Mapping[str, Person],
    rules: SiteRules | None = None,
    pins: Mapping[str, str] = MappingProxyType({}),
    circuits: Circuits | None = None,
    actuator: Actuator | None = None,
) -> PinnedJob:
    """Pin a job: refuse what no procedure exists for, and spread the procedure over the valve.

    Raises
    ------
    BadDefinition
        An end is seated otherwise than the procedure says (named), the tags differ, or a checkpoint names a rotor
        that the chart does not have.

    """
    _refuse_other_seating(chart, procedure)
    if plain_tag(chart.valve) != plain_tag(valve.tag):
        raise BadDefinition(
            f"The chart is for valve {chart.valve}, the job for {valve.tag}.", field="chart.valve"
        )
    if actuator is not None and plain_tag(actuator.valve) != plain_tag(valve.tag):
        raise BadDefinition(
            f"The actuator is that of valve {actuator.valve}, the job is for {valve.tag}.", field="actuator"
        )
    rules = rules or SiteRules()
    steps = tuple(_expand_step(step, valve, chart, rules) for step in procedure.steps)
    expected = {step.id: expected_there(chart, step.checkpoint) for step in steps if step.checkpoint}
    spread = replace(procedure, steps=steps)
    return PinnedJob(
        job, site, valve, chart, spread, people, rules, pins, expected, circuits=circuits, actuator=actuator
    )


def expected_there(chart: ContactChart, checkpoint: Checkpoint) -> dict[str, Expected]:
    """Return what every contact must be at a checkpoint, by label."""
    states = dict(_named_states(chart, checkpoint))
    for rotor in chart.rotors:
        if states.get(rotor.id) == "by_chart":
            states[rotor.id] = _state_by_chart(chart, rotor.id, checkpoint)
    known = {rotor: cast("RotorState", state) for rotor, state in states.items() if state != "unknown"}
    return expected_at_checkpoint(chart, known)


def parts_of(what: ForEach, valve: Valve, chart: ContactChart) -> list[Part]:
    """Return the slots of each repetition; `name` is what is spoken, and never a slot."""
    if what == "phase_readings":
        return _phase_readings(valve)
    if what == "foreign_circuits":
        circuits = foreign_circuits(valve, chart)
        return [{"from": spoken(use), "to": "earth", "name": f"{use} to earth"} for use in circuits]
    if what == "sources":
        return [{"source": spoken(source), "name": source.replace("_", " ")} for source in valve.sources]
    if what == "stop_contacts":
        stops = [contact for contact in chart.contacts if contact.circuit.startswith("stops_")]
        return [{"contact": contact.label, "name": f"contact {contact.label}"} for contact in stops]
    roles = ROTORS_OF[what]
    rotors = [rotor for rotor in chart.rotors if rotor.role in roles]
    return [{"rotor": rotor_number(rotor.id), "name": f"rotor {rotor.id}"} for rotor in rotors]


def foreign_circuits(valve: Valve, chart: ContactChart) -> tuple[str, ...]:
    """Return the circuits in the compartment that the motor supply does not feed, by their spoken name.

    Supplies besides the first, and circuits that the chart does not name, are measured like any other.
    """
    uses = [contact.spoken or contact.use for contact in chart.contacts if contact.circuit in FOREIGN]
    named = [name.replace("_", " ") for name in (*uses, *valve.sources[1:], *valve.other_circuits)]
    return tuple(dict.fromkeys(named))


def spoken(name: str) -> str:
    """Return a name as it stands in slots: "Heater supply" becomes heater_supply."""
    return "_".join(name.lower().replace("-", " ").split())


def _phase_readings(valve: Valve) -> list[Part]:
    conductors = [*CONDUCTORS[: valve.phases], *(["neutral"] if valve.neutral else [])]
    pairs = [(conductor, "earth") for conductor in conductors] + list(combinations(conductors, 2))
    return [{"from": one, "to": other, "name": f"{one} to {other}".replace("_", " ")} for one, other in pairs]


def _refuse_other_seating(chart: ContactChart, procedure: Procedure) -> None:
    """Refuse a valve with an end that is not stopped by what the procedure is for."""
    words = {"torque": "torque-seated", "limit": "limit-seated"}
    for end, seating in procedure.seats.items():
        found = getattr(chart, f"{end}_end")
        if found != seating:
            raise BadDefinition(
                f"The {end} end of {chart.valve} is {words[found]}; procedure {procedure.id} is for an end that "
                f"is {words[seating]}.",
                field=f"chart.{end}_end",
            )


def _expand_step(step: Step, valve: Valve, chart: ContactChart, rules: SiteRules) -> Step:
    needs: list[Condition] = []
    for need in step.needs:
        if need.only_if == "flameproof" and not valve.flameproof:
            continue
        limited = _for_valve(need, valve, rules)
        needs += (
            [limited] if need.for_each is None else _repeated(limited, parts_of(need.for_each, valve, chart))
        )
    return replace(step, needs=tuple(needs))


def _for_valve(need: Condition, valve: Valve, rules: SiteRules) -> Condition:
    """Return the condition with the valve's tag in its place and the site's limit in force."""
    limits = _by_site_rule(need.limits, rules) if need.limits else None
    pattern = need.pattern
    if pattern is not None and OWN_TAG in pattern.slots.values():
        slots = {
            key: plain_tag(valve.tag) if value == OWN_TAG else value for key, value in pattern.slots.items()
        }
        pattern = pattern_of(pattern.intent, slots)
    return replace(need, pattern=pattern, limits=limits, says=need.says.replace(OWN_TAG, valve.tag))


def _repeated(need: Condition, parts: list[Part]) -> list[Condition]:
    repeated = []
    for part in parts:
        slots = {key: value for key, value in part.items() if key != "name"}
        name = spoken("_".join(str(value) for value in slots.values()))
        pattern = pattern_of(need.pattern.intent, {**need.pattern.slots, **slots}) if need.pattern else None
        owner = f"{need.same_person_as}_{name}" if need.same_person_as else None
        says = need.says.replace("{name}", str(part["name"]))
        repeated.append(
            replace(
                need, id=f"{need.id}_{name}", says=says, pattern=pattern, same_person_as=owner, for_each=None
            )
        )
    return repeated


def _by_site_rule(limits: Limits, rules: SiteRules) -> Limits:
    if limits.site_rule is None or limits.site_rule not in rules.limits:
        return limits
    return replace(limits, maximum=rules.limits[limits.site_rule])


def _named_states(chart: ContactChart, checkpoint: Checkpoint) -> dict[str, str]:
    states: dict[str, str] = {
        rotor.id: checkpoint.rotors.get(rotor.role, "unknown") for rotor in chart.rotors
    }
    for name, state in checkpoint.rotors.items():
        if name not in ("closed_end", "open_end", "auxiliary"):
            chart.rotor(name)
            states[name] = state
    return states


def _state_by_chart(chart: ContactChart, rotor: str, checkpoint: Checkpoint) -> str:
    start = 100.0 if checkpoint.direction == "closed" else 0.0
    history = [Travel(start)] if checkpoint.direction else []
    tripped = possibly_tripped(chart.rotor(rotor), Travel(checkpoint.travel_pct), history)
    if len(tripped) > 1:
        return "unknown"
    return "still_tripped" if True in tripped else "at_rest"
