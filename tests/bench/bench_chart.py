"""Speed of the trade's computations, as ratios to a baseline measured in the same run.

Expected states of 4 rotors with 16 contacts each at 10,000 travels, against a plain numpy look-up in the same
table; and a rehearsal against the same stroke played once without its uncertainty.
"""

import time
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from service.commands.definition_files import load_valve_file
from service.domain.chart import ContactChart, Rotor
from service.domain.chart_table import table_of
from service.domain.expected import expected_along, expected_contacts
from service.domain.rehearsal import play, rehearse
from service.domain.travel import Travel
from tests.service.domain.charts import contact, switch
from tests.service.domain.test_rehearsal import stroke

TRAVELS = np.linspace(0.01, 99.99, 10_000)
pytestmark = pytest.mark.bench


def large_chart() -> ContactChart:
    layout = switch(rotors=4, per_bar=8)
    rotors = tuple(Rotor(f"R{n}", "open", 20.0 * n, 1.0) for n in range(1, 5))
    contacts = tuple(
        contact(layout, place.id, place.id, "breaks" if place.bar == "lower" else "makes")
        for place in layout.contacts
    )
    return ContactChart("RW-1", layout, rotors, contacts)


def seconds(work, rounds=3) -> float:
    best = float("inf")
    for _ in range(rounds):
        start = time.perf_counter()
        work()
        best = min(best, time.perf_counter() - start)
    return best


def test_expected_states_of_four_rotors_and_sixty_four_contacts():
    chart = large_chart()
    table = table_of(chart)
    closed = np.array([[state == "closed" for state in row] for row in table.rows.values()])
    limits = np.array(table.zones_pct[1:-1])
    start = [Travel(0.0)]

    def ours():
        return [expected_contacts(chart, Travel(float(pct)), start) for pct in TRAVELS]

    def look_up():
        return closed[:, np.searchsorted(limits, TRAVELS, side="right")]

    told = np.array([[state == "closed" for state in row.values()] for row in ours()]).T
    assert (told == look_up()).all()
    assert expected_along(chart, "open", TRAVELS.tolist()) == ours()
    mine, plain = seconds(ours), seconds(look_up)
    along = seconds(lambda: expected_along(chart, "open", TRAVELS.tolist()))
    print(f"\n{len(chart.contacts)} contacts at {len(TRAVELS)} travels, plain numpy look-up {plain:.5f} s")
    print(f"each travel alone, with history and doubt: {mine:.3f} s, ratio {mine / plain:.0f}")
    print(f"as one stroke: {along:.5f} s, ratio {along / plain:.1f}")


def test_a_rehearsal_with_its_doubt_against_one_without():
    given = stroke(trip_sigma_pct=0.05)
    with_doubt, without = seconds(lambda: rehearse(given), 20), seconds(lambda: play(given), 20)
    print(
        f"\nrehearsal: {with_doubt * 1e3:.2f} ms, without its doubt {without * 1e3:.2f} ms: ratio "
        f"{with_doubt / without:.1f}"
    )


@pytest.mark.parametrize("tag", ["rw-204", "rw-118", "rw-330"])
def test_a_sample_valve_rehearsed_from_its_file(tag):
    path = Path(__file__).parents[2] / "sample_media/jobs" / tag / "valve.yaml"
    valve, wiring = load_valve_file(path)
    first = seconds(lambda: rehearse(valve.stroke(replace(wiring.circuits))), 20)
    reading = seconds(lambda: load_valve_file(path), 5)
    print(
        f"\n{tag}: {first * 1e3:.2f} ms on circuits not asked before, its files read in {reading * 1e3:.0f} ms"
    )
