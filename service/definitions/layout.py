"""Reads a switch layout file for the rules: rotors, bars, contacts. Its geometry is the reader's affair."""

from typing import Any

from service.definitions.documents import hold_to_schema, read_document
from service.domain.layout import Place, SwitchLayout


def load_layout(text: bytes) -> SwitchLayout:
    """Return the construction of the switch that a layout file describes.

    Raises
    ------
    BadDefinition
        The file cannot be used; the message names the field.

    """
    return layout_in(read_document(text, "switch layout"))


def layout_in(document: dict[str, Any]) -> SwitchLayout:
    """Return the construction that a layout document describes; raises BadDefinition where it cannot be used."""
    document = hold_to_schema(document, "layout", "switch layout")
    rotors = document["rotors"]
    return SwitchLayout(
        document["id"],
        tuple(rotor["id"] for rotor in rotors),
        tuple(place for r in rotors for place in _places(r)),
    )


def _places(rotor: dict[str, Any]) -> list[Place]:
    return [
        Place(contact["id"], rotor["id"], bar["id"], contact["along_means"])
        for bar in rotor["bars"]
        for contact in bar["contacts"]
    ]
