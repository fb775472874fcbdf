"""Invented switches and charts to start a test from, and strategies that make them."""

from hypothesis import strategies as st

from service.domain.chart import Contact, ContactChart, Rotor
from service.domain.chart_table import ChartTable, change_of, trip_of
from service.domain.layout import Place, SwitchLayout


def switch(rotors=2, per_bar=2, means=None) -> SwitchLayout:
    """A switch whose contacts are called R1-upper-1 and so on; `means` sets along_means by contact."""
    names = tuple(f"R{n}" for n in range(1, rotors + 1))
    places = tuple(
        Place(identifier, rotor, bar, (means or {}).get(identifier, "closed"))
        for rotor in names
        for bar in ("upper", "lower")
        for n in range(1, per_bar + 1)
        for identifier in [f"{rotor}-{bar}-{n}"]
    )
    return SwitchLayout("invented", names, places)


def contact(layout, label, place, action, circuit="spare", **more) -> Contact:
    found = layout.place(place)
    return Contact(label, found.rotor, found.bar, place, action, more.pop("use", ""), circuit=circuit, **more)


def two_ended_chart(**changes) -> ContactChart:
    """Closed end on R1, open end on R2, each with a contact that stops the motor, one lamp and one signal."""
    layout = switch()
    arguments = {
        "valve": "RW-1",
        "layout": layout,
        "rotors": (
            Rotor("R1", "closed", 2.0, 1.0, "closed_end"),
            Rotor("R2", "open", 97.0, 1.0, "open_end"),
        ),
        "contacts": (
            contact(layout, "9", "R1-lower-1", "breaks", "stops_closing"),
            contact(layout, "3B", "R1-lower-2", "breaks", "lamp"),
            contact(layout, "17", "R1-upper-1", "makes", "remote"),
            contact(layout, "12", "R2-lower-1", "breaks", "stops_opening"),
            contact(layout, "6B", "R2-upper-1", "makes", "remote"),
        ),
    }
    return ContactChart(**{**arguments, **changes})


def rebuilt(table: ChartTable, chart: ContactChart) -> ContactChart:
    """The chart that a table gives, trip directions and differentials being those of `chart`."""
    rotors = []
    for rotor in chart.rotors:
        labels = [one.label for one in chart.contacts_of(rotor.id)]
        trip = trip_of(table, labels, rotor.id, rotor.trips_towards) if labels else rotor.trip_pct
        rotors.append(Rotor(rotor.id, rotor.trips_towards, trip, rotor.differential_pct, rotor.role))
    towards = {rotor.id: rotor.trips_towards for rotor in rotors}
    contacts = tuple(
        Contact(
            one.label, one.rotor, one.bar, one.place,
            change_of(table, one.label).action(towards[one.rotor]),
            one.use, one.voltage_v, one.circuit,
        )
        for one in chart.contacts
    )  # fmt: skip
    return ContactChart(chart.valve, chart.layout, tuple(rotors), contacts)


@st.composite
def rotors_on_a_grid(draw, name="R1") -> Rotor:
    """A rotor whose trip and reset fall on whole percents, so that a step-by-step walk can meet them."""
    towards = draw(st.sampled_from(["open", "closed"]))
    trip = draw(st.integers(1, 99))
    room = trip if towards == "open" else 100 - trip
    return Rotor(name, towards, float(trip), float(draw(st.integers(0, min(room - 1, 12)))))


@st.composite
def charts(draw) -> ContactChart:
    """Any chart that can be built: rotors of either sense, contacts on either bar, either `along_means`."""
    count, per_bar = draw(st.integers(1, 4)), draw(st.integers(1, 2))
    plain = switch(count, per_bar)
    means = {place.id: draw(st.sampled_from(["closed", "open"])) for place in plain.contacts}
    layout = switch(count, per_bar, means)
    rotors = tuple(draw(rotors_on_a_grid(name)) for name in layout.rotors)
    contacts = []
    for rotor in layout.rotors:
        rest = draw(st.sampled_from(["upper", "lower"]))
        for place in layout.places_of(rotor):
            if draw(st.booleans()):
                closed_at_rest = (place.bar == rest) == (place.along_means == "closed")
                action = "breaks" if closed_at_rest else "makes"
                contacts.append(contact(layout, f"c{len(contacts)}", place.id, action))
    return ContactChart("RW-1", layout, rotors, tuple(contacts))
