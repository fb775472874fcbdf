"""Fixtures of the reader's tests: the invented job's layout and photos, and rendered switches with exact truth."""

from functools import cache
from pathlib import Path

import pytest

from tests.vision.scenery import Switch, invented
from vision import Layout, Reader, load_layout

SAMPLES = Path(__file__).parents[2] / "sample_media"


@cache
def _job_reader() -> Reader:
    return Reader(load_layout(SAMPLES / "jobs" / "rw-204" / "layout.json"))


@pytest.fixture
def job_layout() -> Layout:
    return _job_reader().layout


@pytest.fixture
def job_reader() -> Reader:
    return _job_reader()


@pytest.fixture
def job_photo():
    """Bytes of a photo of the invented job by its number."""
    return lambda number: (SAMPLES / "photos" / f"job_{number:03d}.jpg").read_bytes()


@pytest.fixture
def three_rotors() -> Switch:
    return invented(7, 3)
