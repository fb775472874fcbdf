"""README, DEVELOPERS, `.ci/run` and the manifest say what is so."""

import hashlib
import json
import re
from pathlib import Path

import pytest

from service.command_line import VERBS
from service.compose import samples
from service.demo.caught import FAULTS
from service.settings import Settings
from tests.service.domain.gates_proved import markdown

ROOT = Path(__file__).parents[2]
README = (ROOT / "README.md").read_text()
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text()
LINES = [json.loads(line) for line in (samples() / "MANIFEST.jsonl").read_text().splitlines()]
TEST_COMMAND = ".venv/bin/python -m pytest -n 2"


def test_the_readme_opens_with_the_job_in_one_paragraph():
    first = README.split("\n\n")[1]
    assert first.startswith("A valve in a plant is moved by an electric actuator")
    assert "\n" not in first


def test_ci_calls_the_test_command_of_the_readme():
    assert TEST_COMMAND in README
    assert f"\n{TEST_COMMAND}\n" in (ROOT / ".ci" / "run").read_text()


@pytest.mark.parametrize("verb", VERBS)
def test_every_command_stands_in_the_readme(verb):
    assert f"`limitwitness {verb}" in README


@pytest.mark.parametrize("fault", FAULTS)
def test_every_fault_of_the_demo_stands_in_the_readme(fault):
    assert f"| `{fault}` |" in README


@pytest.mark.parametrize("setting", Settings.model_fields)
def test_every_setting_stands_in_the_developers_document(setting):
    assert f"| `{setting}` |" in DEVELOPERS


def test_the_table_of_gates_is_the_one_that_the_tests_hold():
    assert markdown().strip() in DEVELOPERS


def test_every_photo_and_clip_has_its_line_in_the_manifest():
    media = {
        path for path in samples().rglob("*") if path.suffix in {".jpg", ".png", ".ogg", ".opus", ".wav"}
    }
    named = {samples() / line["file"] for line in LINES}
    assert media - named == set()


@pytest.mark.parametrize("line", LINES, ids=lambda line: line["file"])
def test_a_line_of_the_manifest_is_whole_and_true(line):
    assert hashlib.sha256((samples() / line["file"]).read_bytes()).hexdigest() == line["sha256"]
    assert line["how"]
    assert line["licence"]


def test_no_document_promises_what_the_program_never_says():
    promised = re.findall(r"\b(?:verified|is safe|declared dead)\b", README, re.IGNORECASE)
    assert promised == []
