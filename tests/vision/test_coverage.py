"""Painted areas: exact against OpenCV's polygon area, whole wherever they are cut, and without seams."""

import cv2
import numpy as np
import pytest

from vision.coverage import coverage


def _star(chance):
    turn = np.sort(chance.uniform(0, 2 * np.pi, chance.integers(3, 30)))
    reach = chance.uniform(3, 40) * chance.uniform(0.5, 1, (len(turn), 1))
    return 50 + reach * np.column_stack([np.cos(turn), np.sin(turn)])


@pytest.mark.outside(
    source="OpenCV contourArea: Green's formula over the corners, an independent implementation"
)
def test_the_covered_area_is_that_of_the_polygon():
    chance = np.random.default_rng(1)
    for _ in range(50):
        star = _star(chance)
        area = cv2.contourArea(star.astype(np.float32))
        assert coverage([star], 100, 100).sum() == pytest.approx(area, abs=0.01)
        assert coverage([star[::-1]], 100, 100).sum() == pytest.approx(area, abs=0.01)


def test_a_part_of_the_picture_is_covered_as_in_the_whole():
    chance = np.random.default_rng(2)
    for _ in range(50):
        star = _star(chance)
        whole = coverage([star], 100, 100)
        assert np.allclose(coverage([star - [40, 35]], 30, 25), whole[35:60, 40:70], atol=1e-9)


def test_a_pixel_reaches_half_a_pixel_around_its_middle():
    square = np.array([[1.25, 2.5], [5.25, 2.5], [5.25, 4.0], [1.25, 4.0]])
    covered = coverage([square], 8, 6)
    assert covered[3].tolist() == pytest.approx([0, 0.25, 1, 1, 1, 0.75, 0, 0])
    assert covered[4].tolist() == pytest.approx([0, 0.125, 0.5, 0.5, 0.5, 0.375, 0, 0])
    assert covered.sum() == pytest.approx(6.0)


def test_squares_side_by_side_leave_no_seam():
    square = np.array([[1.3, 1.3], [4.6, 1.3], [4.6, 4.6], [1.3, 4.6]])
    both = coverage([square, square + np.array([3.3, 0.0])], 12, 8)
    assert both[3, 2:8].tolist() == pytest.approx([1.0] * 6)
