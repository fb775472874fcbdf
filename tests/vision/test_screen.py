"""A photographed screen is noticed by its grid; photos of scenes, however resaved, are not taken for one."""

import cv2
import numpy as np
import pytest
import skimage.data

from tests.vision.scenery import invented
from tests.vision.screens import photographed_screen
from tests.vision.test_bad_input import coded, tagged
from vision.photo import decode
from vision.screen import SCREEN_FROM, grid_figure, shows_screen


@pytest.mark.parametrize("ratio", [0.8, 1.7, 3.2])
def test_a_photographed_screen_is_refused_and_the_reason_says_screen(ratio):
    photo = coded(photographed_screen(tagged()[1], ratio), 85)
    reading = invented(7, 3).reader.read(photo)
    assert reading.verdict == "refused"
    assert "grid of a screen" in reading.reason
    assert reading.contacts in ({}, dict.fromkeys(reading.contacts, "unknown"))


def test_no_photo_of_the_job_is_taken_for_a_screen(job_photo):
    figures = [grid_figure(decode(job_photo(number)).pixels) for number in range(16)]
    assert max(figures) < SCREEN_FROM - 0.3


def forms(pixels: np.ndarray) -> dict[str, np.ndarray]:
    """What editing and sending does to a photo: each leaves regular traces of its own."""
    height, width = pixels.shape[:2]
    turn, coarse = cv2.getRotationMatrix2D((width / 2, height / 2), 6, 1.1), decode(coded(pixels, 30)).pixels
    return {
        "straightened after strong compression": cv2.warpAffine(coarse, turn, (width, height)),
        "enlarged": cv2.resize(pixels, None, fx=1.37, fy=1.37, interpolation=cv2.INTER_LINEAR),
        "made small without smoothing": cv2.resize(
            pixels, None, fx=0.63, fy=0.63, interpolation=cv2.INTER_NEAREST
        ),
        "few tones": pixels // 16 * 16,
    }


@pytest.mark.parametrize("form", [*forms(np.zeros((600, 600, 3), np.uint8)), "compressed"])
def test_a_photo_that_went_through_an_editor_is_not_taken_for_a_screen(job_photo, form):
    pixels = decode(job_photo(4)).pixels
    photo = coded(pixels, 25) if form == "compressed" else coded(forms(pixels)[form], 80)
    assert not shows_screen(decode(photo).pixels)


@pytest.mark.outside(source="scikit-image sample pictures: regular things that are no screen")
@pytest.mark.parametrize("name", ["brick", "grass", "gravel", "astronaut"])
def test_regular_things_are_not_taken_for_a_screen(name):
    picture = getattr(skimage.data, name)()
    picture = picture if picture.ndim == 3 else np.dstack([picture] * 3)
    assert not shows_screen(decode(coded(np.ascontiguousarray(picture))).pixels)


def test_a_flat_or_tiny_picture_has_no_grid():
    assert grid_figure(np.full((960, 1280, 3), 128, np.uint8)) == 0.0
    assert grid_figure(np.zeros((200, 1280, 3), np.uint8)) == 0.0
