"""The table of gates names steps that there are and tests that there are, and leaves out no gate."""

import re
from pathlib import Path

import pytest

from tests.service.domain.gates_proved import PROVED, markdown
from tests.service.domain.jobs import shipped

HERE = Path(__file__).parent


@pytest.mark.parametrize("row", PROVED, ids=lambda row: row.gate)
def test_each_gate_names_a_test_that_there_is(row):
    file, _, name = row.test.partition("::")
    assert re.search(rf"^(def {name}\(|{name} = )", (HERE / file).read_text(), flags=re.MULTILINE)


def test_every_step_that_is_a_gate_stands_in_the_table():
    procedure = shipped("default")
    named = {step for row in PROVED for step in row.steps}
    gates = {step.id for step in procedure.steps if step.gate} - {"prepare_valve"}
    assert gates <= named
    assert {step for step in named if " " not in step and step != "opening"} <= set(procedure.places)


def test_the_table_has_one_row_a_gate():
    assert len(markdown().splitlines()) == len(PROVED) + 2
    assert len({row.gate for row in PROVED}) == len(PROVED)
