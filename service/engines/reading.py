"""The eye behind its port: the only importer of `vision` in the service.

Turns a reading per bar and rotor into contact states by label: a legal rotor gives closed or open, a rotor
between its positions `between`, one that cannot be built so `impossible`, and everything that was not read
`none`.
"""

from collections.abc import Mapping
from functools import lru_cache
from typing import Any

import vision
from service.domain.chart import Contact, ContactChart
from service.domain.refusals import BadDefinition
from service.ports import SeenPhoto

BY_ROTOR = {"between": "between", "impossible": "impossible"}


class VisionReading:
    """Implements `ports.Reading`; keeps the reader of a layout from one photo to the next."""

    def read(
        self,
        photo: bytes,
        layout: bytes,
        chart: ContactChart,
        reference: bytes | None = None,
        upper_edge: tuple[float, float] | None = None,
    ) -> SeenPhoto:
        """Return what a photo shows of the chart's contacts."""
        plan, reader = _reader(layout, reference)
        reading = reader.read(photo, upper_edge=upper_edge)
        stated = reading.to_json()
        seen = {contact.label: state_of(contact, stated) for contact in chart.contacts}
        sure = {
            contact.label: probability
            for contact in chart.contacts
            if (probability := probability_of(contact, stated)) is not None
        }
        picture = vision.annotate(photo, reading, plan) if stated["verdict"] == "read" else None
        return SeenPhoto(seen, sure, stated, picture)

    def fingerprint(self) -> str:
        """Return the version of the reader with the hash of its tables."""
        return f"{vision.READER_VERSION} {vision.reader_fingerprint()}"


@lru_cache(maxsize=8)
def _reader(layout: bytes, reference: bytes | None) -> "tuple[vision.Layout, vision.Reader]":
    try:
        plan = vision.load_layout(layout, reference)
    except vision.VisionRefusal as refusal:
        raise BadDefinition(str(refusal), field="layout") from refusal
    return plan, vision.Reader(plan)


def state_of(contact: Contact, reading: Mapping[str, Any]) -> str:
    """Return what a reading says of one contact: closed, open, between, impossible or none."""
    if reading["verdict"] != "read":
        return "none"
    rotor = next((one for one in reading["rotors"] if one["id"] == contact.rotor), None)
    if rotor is None:
        return "none"
    if rotor["state"] != "legal":
        return BY_ROTOR.get(rotor["state"], "none")
    seen = reading["contacts"].get(contact.place)
    return seen if seen in {"closed", "open"} else "none"


def probability_of(contact: Contact, reading: Mapping[str, Any]) -> float | None:
    """Return the calibrated probability, 0 to 1, that the contact's bar lies as the reading says.

    None if unread.
    """
    if state_of(contact, reading) not in {"closed", "open"}:
        return None
    for bar in reading["bars"]:
        if (bar["rotor"], bar["bar"]) == (contact.rotor, contact.bar) and bar["p_along"] is not None:
            along = float(bar["p_along"])
            return along if bar["state"] == "along" else 1.0 - along
    return None
