"""From bars to contacts: a contact follows its bar through `along_means`, only where its rotor is legal."""

from collections.abc import Iterable

from vision.layout import Layout
from vision.reading import BarState, Contact, RotorReading


def contact_state(state: BarState, along_means: str) -> Contact:
    """State of one contact whose bar was called.

    Examples
    --------
    >>> contact_state("across", "open")
    'closed'

    """
    if state not in ("along", "across"):
        return "unknown"
    return "closed" if (state == "along") == (along_means == "closed") else "open"


def contacts_of(layout: Layout, rotors: Iterable[RotorReading]) -> dict[str, Contact]:
    """State of every contact of the layout, in the layout's order."""
    states = {
        (r.id, bar.bar): bar.state if r.state == "legal" else "unreadable" for r in rotors for bar in r.bars
    }
    return {
        contact: contact_state(states.get((rotor, bar), "unreadable"), means)
        for contact, (rotor, bar, means) in layout.contact_bars().items()
    }
