"""The camera against OpenCV's own projection, and its fit against cameras that are known."""

from dataclasses import replace

import cv2
import numpy as np
import pytest

from vision.camera import Camera, fit, focal_prior_px, from_similarity

SIZE = (1280, 960)


def some_camera(**changes) -> Camera:
    level = from_similarity(SIZE, 25.0, 5.0, np.array([640.0, 470.0]), np.array([75.0, 64.0, 0.0]))
    tilt = cv2.Rodrigues(np.array([0.35, -0.2, 0.0]))[0] @ level.rotation
    place = level.rotation @ np.array([75.0, 64.0, 0.0]) + level.tvec
    tilted = replace(
        level, rvec=cv2.Rodrigues(tilt)[0].ravel(), tvec=place - tilt @ np.array([75.0, 64.0, 0.0]), k1=-0.09
    )
    return replace(tilted, **changes)


def some_points(chance: np.random.Generator, count: int = 40) -> np.ndarray:
    return np.column_stack(
        [chance.uniform(0, 150, count), chance.uniform(0, 128, count), chance.choice([0.0, -2.5, 1.5], count)]
    )


@pytest.mark.outside(
    source="OpenCV projectPoints, an independent implementation of the pinhole with radial distortion"
)
def test_points_are_projected_as_opencv_projects_them():
    camera, points = some_camera(), some_points(np.random.default_rng(1))
    matrix = np.array([[camera.f_px, 0, camera.centre[0]], [0, camera.f_px, camera.centre[1]], [0, 0, 1]])
    theirs = cv2.projectPoints(
        points, camera.rvec, camera.tvec, matrix, np.array([camera.k1, 0.0, 0.0, 0.0])
    )[0]
    assert np.abs(camera.project(points) - theirs.reshape(-1, 2)).max() < 1e-6


def test_the_fit_finds_focal_length_distortion_and_pose_from_noisy_points():
    camera, chance = some_camera(f_px=1000.0), np.random.default_rng(2)
    points = some_points(chance)
    seen = camera.project(points) + chance.normal(0, 0.3, (len(points), 2))
    start = from_similarity(SIZE, 20.0, 4.5, np.array([600.0, 500.0]), np.array([75.0, 64.0, 0.0]))
    found = fit(start, points, seen, sigma_px=0.3, focal_prior_px=focal_prior_px(*SIZE))
    assert np.abs(found.camera.project(points) - camera.project(points)).max() < 0.5
    assert found.camera.k1 == pytest.approx(camera.k1, abs=0.02)


def test_one_gross_error_among_the_points_costs_only_itself():
    camera, chance = some_camera(), np.random.default_rng(3)
    points = some_points(chance)
    seen = camera.project(points)
    seen[5] += 80.0
    found = fit(some_camera(f_px=1300.0), points, seen, sigma_px=0.5, focal_prior_px=focal_prior_px(*SIZE))
    others = np.delete(np.arange(len(points)), 5)
    assert np.abs((found.camera.project(points) - camera.project(points))[others]).max() < 0.3


@pytest.mark.outside(
    source="geometry: a disc tilted by t about its zero axis, tan(seen) = tan(true) cos(t); 4.117 degrees at 30"
)
@pytest.mark.parametrize(("tilt", "seen"), [(10, 44.56), (15, 44.01), (20, 43.22), (30, 40.89), (45, 35.26)])
def test_a_tilted_view_bends_an_angle_as_geometry_says_and_the_camera_knows_it(tilt, seen):
    far = replace(
        from_similarity(SIZE, 0.0, 5.0, np.array([639.5, 479.5]), np.zeros(3)),
        f_px=1e6,
        tvec=np.array([0, 0, 2e5]),
    )
    turn = cv2.Rodrigues(np.array([np.radians(tilt), 0, 0]))[0] @ far.rotation
    camera = replace(far, rvec=cv2.Rodrigues(turn)[0].ravel())
    ends = camera.project(np.array([[-10, -10, 0], [10, 10, 0]], np.float64))
    across = ends[1] - ends[0]
    assert np.degrees(np.arctan2(-across[1], across[0])) == pytest.approx(seen, abs=0.02)
