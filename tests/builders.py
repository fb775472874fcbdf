"""Invented people, devices and files to start a test from."""

import io
import wave
from pathlib import Path

import cv2
import numpy as np
import uuid_utils

from service.ports import Device, JobRow, Person, Site

ROOT = Path(__file__).parents[1]
SAMPLES = ROOT / "sample_media"

AT_CLOSED_END = {
    "9": "open",
    "3B": "open",
    "17": "closed",
    "5A": "closed",
    "12": "closed",
    "20": "closed",
    "6B": "open",
    "11": "open",
    "23": "open",
    "14": "open",
    "2D": "closed",
    "16": "closed",
}
"""Every contact of RW-204 at its closed end just tripped, worked out by hand from the sample chart."""
NOW = "2031-05-06T07:08:09.000000Z"


def new_id() -> str:
    return str(uuid_utils.uuid7())


def site(name: str = "Marrow Sound pumping station") -> Site:
    return Site(new_id(), name, {})


def person(at: Site, name: str = "Oona Prell", roles=("technician",), **more) -> Person:
    values = {"sign_in_name": name.lower().replace(" ", "."), "password": None, "active": True, **more}
    return Person(new_id(), at.id, name, roles=frozenset(roles), **values)


def device(at: Site, token_hash: str = "0" * 64) -> Device:
    return Device(new_id(), at.id, "blue phone", token_hash, NOW, "2032-05-06T07:08:09.000000Z")


def job_row(at: Site, **more) -> JobRow:
    values = {"tag": "RW-204", "valve": "Raw water inlet", "status": "open", "step": None, "summary": {}}
    return JobRow(new_id(), at.id, opened=NOW, changed=NOW, **{**values, **more})


def photo(width: int = 64, height: int = 48, form: str = ".png") -> bytes:
    """Return a small grey picture of that size."""
    picture = np.full((height, width, 3), 120, np.uint8)
    return cv2.imencode(form, picture)[1].tobytes()


def clip(seconds: float = 0.2, rate: int = 16000) -> bytes:
    """Return a silent WAV clip."""
    kept = io.BytesIO()
    with wave.open(kept, "wb") as written:
        written.setparams((1, 2, rate, 0, "NONE", ""))
        written.writeframes(bytes(int(seconds * rate) * 2))
    return kept.getvalue()
