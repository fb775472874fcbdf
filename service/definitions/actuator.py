"""Reads what a valve file states of the drive, for a job on that valve."""

from service.definitions.documents import hold_to_schema, read_document
from service.definitions.valve import ValveFile
from service.domain.actuator import Actuator
from service.domain.back_off import HALF_A_TURN

WHAT = "valve file"


def load_actuator(text: bytes) -> Actuator:
    """Return what a valve file states of scale, motor, duty and margin.

    Raises
    ------
    BadDefinition
        The file cannot be used, or it states no travel scale; the field is named.

    """
    stated = ValveFile(text)
    document = hold_to_schema(read_document(text, WHAT), "valve", WHAT)
    margin = document.get("margin", {})
    tight = margin.get("tightness_allows_pct")
    return Actuator(
        valve=stated.valve,
        scale=stated.scale,
        motor=stated.motor if "motor" in document else None,
        duty=stated.duty,
        trip_sigma_pct=float(document.get("stroke", {}).get("trip_sigma_pct", 0.0)),
        site_rule_turns=float(margin.get("site_rule_handwheel_turns", HALF_A_TURN)),
        uncertainty_pct=float(margin.get("uncertainty_pct", 0.0)),
        tightness_allows_pct=None if tight is None else float(tight),
    )
