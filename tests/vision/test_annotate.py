"""The picture of what was measured: drawn on the bars, with words, and for refused photos too."""

import cv2
import numpy as np

from vision import annotate
from vision.annotate import _lines
from vision.photo import decode


def shown(photo: bytes) -> np.ndarray:
    return cv2.imdecode(np.frombuffer(photo, np.uint8), cv2.IMREAD_COLOR)


def test_outlines_are_drawn_on_the_bars_and_the_photo_stays_below_them(job_reader, job_photo):
    photo = job_photo(1)
    reading = job_reader.read(photo, "one.jpg")
    drawn, plain = shown(annotate(photo, reading, job_reader.layout)), decode(photo).pixels
    band = drawn.shape[0] - plain.shape[0]
    assert band > 0
    changed = np.abs(drawn[band:].astype(int) - plain).max(axis=2) > 60
    rotor, layout = reading.rotors[0], job_reader.layout.rotors[0]
    turn = np.radians(rotor.upper.angle_deg)
    along, side = np.array([np.cos(turn), np.sin(turn)]), np.array([-np.sin(turn), np.cos(turn)])
    for s in (-0.7, 0.0, 0.7):
        edge = (
            np.array(rotor.centre_mm)
            + s * layout.upper.length_mm / 2 * along
            + layout.upper.width_mm / 2 * side
        )
        x, y = np.rint(reading.camera.project(np.array([[*edge, layout.upper.z_mm]]))[0]).astype(int)
        assert changed[y - 4 : y + 5, x - 4 : x + 5].any()


def test_the_words_beside_a_rotor_give_state_angle_and_doubt(job_reader, job_photo):
    reading = job_reader.read(job_photo(0), "")
    lines = _lines(reading.rotors[0])
    assert lines[0] == "R1: legal"
    assert lines[1].startswith("upper bar: along, 1")
    assert "±" in lines[1]


def test_a_refused_photo_gets_its_reason_on_the_picture(job_reader):
    photo = cv2.imencode(".jpg", np.full((600, 800, 3), 90, np.uint8))[1].tobytes()
    reading = job_reader.read(photo, "wall.jpg")
    assert reading.verdict == "refused"
    drawn = shown(annotate(photo, reading, job_reader.layout))
    assert drawn.shape[1] >= 800
    assert drawn[:40].std() > 10
