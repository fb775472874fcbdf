"""The reader: one photo and a switch layout in, one reading out.

Examples
--------
>>> from vision import Reader, load_layout  # doctest: +SKIP
>>> reader = Reader(load_layout("layout.json"))  # doctest: +SKIP
>>> reading = reader.read(open("photo.jpg", "rb").read(), "photo.jpg")  # doctest: +SKIP
>>> reading.contacts  # doctest: +SKIP
{'R1-top-1': 'closed', 'R1-low-1': 'open', ...}

"""

import time
from dataclasses import replace

import numpy as np
import numpy.typing as npt

from vision.contacts import contacts_of
from vision.evidence import examine
from vision.judgement import judge, unseen
from vision.layout import Layout, RotorPlan
from vision.lookalikes import Move
from vision.photo import Photo, decode
from vision.reading import Reading, RotorReading, WayUp, refused
from vision.reasons import Reason
from vision.refusals import VisionRefusal
from vision.registration import NotFound, Registrar, Registration
from vision.screen import shows_screen
from vision.way_up import Tap, edge_at, tapped_mm, upper_edge_words

Pixels = npt.NDArray[np.uint8]
Pixel = npt.NDArray[np.float64]


class Reader:
    """Reads photos of one switch layout; built once, used for many photos."""

    def __init__(self, layout: Layout) -> None:
        self.layout = layout
        self._registrar = Registrar(layout)

    def prepare(self) -> None:
        """Make ready what the first photo without tags would wait for (about a second)."""
        self._registrar.prepare()

    def read(self, photo: bytes, name: str = "", upper_edge: Tap | None = None) -> Reading:
        """Read one photo. Never raises on a bad photo: the verdict is then "refused", with the reason.

        `upper_edge` is where a person tapped the switch's upper edge; it is asked only where the photo leaves open
        which way up the switch is seen.
        """
        began = time.perf_counter()
        try:
            decoded = decode(photo)
        except VisionRefusal as refusal:
            return refused(name, self.layout.id, str(refusal), total_ms=_since(began))
        if shows_screen(decoded.pixels):
            return refused(name, self.layout.id, Reason.SCREEN.about(), total_ms=_since(began))
        reading = self._read(decoded, name, upper_edge)
        return replace(reading, decode_ms=decoded.decode_ms, total_ms=_since(began))

    def _read(self, photo: Photo, name: str, tap: Tap | None) -> Reading:
        registration = self._registrar.register(photo.pixels)
        if isinstance(registration, NotFound):
            return refused(name, self.layout.id, registration.reason)
        others: list[Move] = []
        if not registration.way_up_known:
            others = self._registrar.undecided(photo.pixels, registration.camera, registration.confirmed)
            if any(move.mirrored for move in others):
                return refused(name, self.layout.id, Reason.UNSURE_MIRRORED.about())
        left = others
        if tap is not None and _tells(registration):
            pixel = np.multiply(tap, (photo.pixels.shape[1] - 1, photo.pixels.shape[0] - 1))
            told = self._told(photo.pixels, registration, others, pixel)
            if told is None:
                return refused(name, self.layout.id, Reason.TAP_AGAINST.about())
            registration, left = told
        rotors = tuple(self._rotor(photo.pixels, registration, rotor) for rotor in self.layout.rotors)
        if not registration.way_up_known:
            rotors = self._same_both_ways(rotors, left, registration)
        reading = self._reading(photo, name, registration, rotors)
        return replace(
            reading, way_up=_way_up(registration, others, left), upper_edge=upper_edge_words(self.layout)
        )

    def _told(
        self, pixels: Pixels, found: Registration, others: list[Move], pixel: Pixel
    ) -> tuple[Registration, list[Move]] | None:
        """What a tap on the upper edge leaves: the place and the other ways still open; None where it fits none."""
        point = tapped_mm(found.camera, pixel)
        edge = edge_at(self.layout, point)
        if edge == "none":
            return found, others
        if edge == "upper":
            return found, [move for move in others if edge_at(self.layout, point, move) != "lower"]
        fitting = [move for move in others if edge_at(self.layout, point, move) == "upper"]
        turned = self._registrar.moved(pixels, found, fitting[0]) if len(fitting) == 1 else None
        if turned is None:
            return None
        left = self._registrar.undecided(pixels, turned.camera, turned.confirmed)
        return turned, [
            move for move in left if edge_at(self.layout, tapped_mm(turned.camera, pixel), move) != "lower"
        ]

    def _rotor(self, pixels: Pixels, registration: Registration, rotor: RotorPlan) -> RotorReading:
        evidence = examine(pixels, registration.camera, rotor, registration.method)
        if isinstance(evidence, Reason):
            return unseen(rotor, evidence)
        return judge(evidence, self.layout.angle_band)

    def _same_both_ways(
        self,
        rotors: tuple[RotorReading, ...],
        others: list[Move],
        registration: Registration,
    ) -> tuple[RotorReading, ...]:
        """Keep a rotor only where every way to lay the plan gives it the same states."""
        by_id = {rotor.id: rotor for rotor in rotors}
        if not _tells(registration):
            return tuple(unseen(self.layout.rotor(r.id), Reason.ALONE) for r in rotors)
        kept = []
        for rotor in rotors:
            partners = [by_id[move.reads_as(rotor.id)] for move in others if move.reads_as(rotor.id) in by_id]
            undecided = len(partners) < len(others) or any(not _alike(rotor, partner) for partner in partners)
            kept.append(_silenced(rotor) if undecided else rotor)
        return tuple(kept)

    def _reading(
        self, photo: Photo, name: str, found: Registration, rotors: tuple[RotorReading, ...]
    ) -> Reading:
        readable = any(rotor.state != "unreadable" for rotor in rotors)
        worst = next((rotor.reason for rotor in rotors if rotor.reason), "")
        reason = "; ".join(photo.notes) if readable else Reason.NOTHING_READABLE.about(detail=worst)
        rms = found.rms_px * photo.scale if np.isfinite(found.rms_px) else None
        return Reading(
            file=name,
            layout=self.layout.id,
            verdict="read" if readable else "refused",
            reason=reason,
            method=found.method,
            rms_px=rms,
            rotors=rotors,
            contacts=contacts_of(self.layout, rotors),
            camera=found.camera,
            scale=photo.scale,
        )


def _tells(registration: Registration) -> bool:
    """Say whether enough was found to lay the plan otherwise, and so to hold a tap against it."""
    return registration.way_up_known or len(registration.confirmed) >= 2


def _way_up(registration: Registration, others: list[Move], left: list[Move]) -> WayUp:
    """What told the way up: `others` are the ways that the photo leaves open, `left` those after a tap, if any.

    A tap counts as what told it only where the photo did not.
    """
    if registration.way_up_known:
        return "tags"
    if not _tells(registration):
        return "too few rotors"
    if left:
        return "not told"
    return "tap" if others else "structure"


def _since(began: float) -> float:
    return (time.perf_counter() - began) * 1e3


def _alike(one: RotorReading, other: RotorReading) -> bool:
    return one.state == other.state == "legal" and one.upper.state == other.upper.state


def _silenced(rotor: RotorReading) -> RotorReading:
    """Same rotor, its states withheld because the way up is not known; what was measured stays."""
    upper, lower = (replace(bar, state="unreadable", p_along=0.5) for bar in rotor.bars)
    reason = rotor.reason if rotor.state == "unreadable" else Reason.WAY_UP.about(rotor.id)
    return replace(rotor, state="unreadable", reason=reason, upper=upper, lower=lower)
