"""Figures with units: what they come to, and what does not fit."""

import pytest

from service.definitions.quantities import quantity
from service.domain.refusals import BadDefinition


@pytest.mark.outside(source="inch of 25.4 mm, leads of Acme stems (W6)", confidence="C")
@pytest.mark.parametrize(
    ("stated", "mm"), [("0.25 in", 6.35), ("0.1 in", 2.54), ("0.5 inch", 12.7), ("1.5 in", 38.1)]
)
def test_inches_are_25_4_millimetres(stated, mm):
    assert quantity(stated, "mm", "f") == pytest.approx(mm)


@pytest.mark.parametrize(
    ("stated", "unit", "value"),
    [
        ("5 mm", "mm", 5),
        ("5mm", "mm", 5),
        (" .5 cm ", "mm", 5),
        ("80 ms", "second", 0.08),
        ("15 min", "second", 900),
        ("1400 rpm", "revolution / minute", 1400),
        ("24 rps", "revolution / minute", 1440),
        ("4000 rpm/s", "revolution / minute / second", 4000),
        ("50 Hz", "hertz", 50),
        ("90 deg", "degree", 90),
        ("90°", "degree", 90),
        ("1440 r/min", "revolution / minute", 1440),
        ("0.25 turn", "degree", 90),
        ("152.4 mm", "inch", 6),
    ],
)
def test_a_figure_comes_to_the_unit_that_the_rules_count_in(stated, unit, value):
    assert quantity(stated, unit, "f") == pytest.approx(value)


@pytest.mark.parametrize(
    ("stated", "unit", "words"),
    [
        (5, "mm", "no figure with its unit"),
        ("5", "mm", "no figure with its unit"),
        ("mm", "mm", "no figure with its unit"),
        ("5 mn2", "mm", "no unit 'mn2'"),
        ("5 Mm", "mm", "no unit 'Mm'"),
        ("5 V", "mm", "does not fit here"),
        ("5 s", "mm", "such as 5 mm"),
        ("5 Hz", "mm", "does not fit here"),
        ("50 mm", "hertz", "such as 50 Hz"),
        ("5 blobs", "mm", "no unit 'blobs'"),
        ("nan mm", "mm", "no figure"),
        ("inf mm", "mm", "no figure"),
        ("9**9**9 mm", "mm", "no unit"),
        ("1e99999 mm", "mm", "no unit"),
        ("5 mm mm", "mm", "no unit"),
        ("5 /", "mm", "no unit"),
        (None, "mm", "no figure"),
        ([5], "mm", "no figure"),
    ],
)
def test_a_unit_that_does_not_fit_is_refused_at_its_field(stated, unit, words):
    with pytest.raises(BadDefinition, match=words) as caught:
        quantity(stated, unit, "scale.lead")
    assert caught.value.field == "scale.lead"
