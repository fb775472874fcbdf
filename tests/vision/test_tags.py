"""Tags against a second detector and against published facts of the family."""

from dataclasses import replace

import cv2
import numpy as np
import pytest

from tests.vision.second_detector import second_opinion
from vision.align import tilted
from vision.camera import from_similarity
from vision.registration import Registrar, Registration
from vision.tags import corners_mm, find_tags, look_again

SECOND = "pupil-apriltags 1.0.4: the AprilTag reference detector, an independent implementation"


@pytest.mark.outside(source=SECOND)
def test_the_tags_of_a_photo_are_those_that_a_second_detector_finds(job_layout, job_photo):
    grey = cv2.imdecode(np.frombuffer(job_photo(1), np.uint8), cv2.IMREAD_GRAYSCALE)
    ours, _ = find_tags(grey, job_layout)
    theirs = {tag.tag_id: tag for tag in second_opinion(grey)}
    assert len(ours) >= 5
    for tag in ours:
        # AprilTag corners run the other way round and begin half a turn on.
        there = np.roll(theirs[tag.plan.id].corners[::-1], 2, axis=0)
        off = np.abs(tag.corners_px - there)
        assert off.max() < 2.5  # the spread of both detectors against published corners of real photos
        assert np.median(off) < 1.0


@pytest.mark.outside(
    source="AprilTag code table against OpenCV: its 36h11 pictures are the originals turned by 180 degrees"
)
@pytest.mark.parametrize("number", [0, 1, 7, 100, 300, 586])
def test_opencv_and_apriltag_agree_on_the_number_and_oppose_on_the_corner(number):
    dictionary = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_APRILTAG_36h11)
    picture = np.full((400, 400), 255, np.uint8)
    picture[100:300, 100:300] = cv2.aruco.generateImageMarker(dictionary, number, 200)
    corners, ids, _ = cv2.aruco.ArucoDetector(dictionary).detectMarkers(picture)
    second = second_opinion(picture)
    assert [int(i) for i in ids.ravel()] == [number] == [tag.tag_id for tag in second]
    ours, theirs = corners[0].reshape(4, 2), second[0].corners
    # AprilTag lists lower left, lower right, upper right, upper left of the tag as it prints it: its "upper left" lies
    # where the picture that OpenCV drew upright has its lower right.
    assert np.abs(theirs[3] - ours[2]).max() < 2
    assert np.abs(theirs[1] - ours[0]).max() < 2


def test_a_tag_that_the_layout_does_not_name_is_ignored(job_layout, job_photo):
    dictionary = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_APRILTAG_36h11)
    picture = np.full((400, 400), 255, np.uint8)
    picture[100:300, 100:300] = cv2.aruco.generateImageMarker(dictionary, 42, 200)
    assert find_tags(picture, job_layout)[0] == ()


def test_a_tag_seen_twice_counts_for_neither_place(job_layout):
    dictionary = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_APRILTAG_36h11)
    picture = np.full((400, 900), 255, np.uint8)
    for left in (100, 550):
        picture[100:300, left : left + 200] = cv2.aruco.generateImageMarker(dictionary, 111, 200)
    assert find_tags(picture, job_layout)[0] == ()


def test_the_corners_of_a_plan_tag_run_clockwise_from_its_upper_left(job_layout):
    corners = corners_mm(job_layout.tags[0])
    assert corners[0].tolist() == [1.5, 126.5, 0.0]
    assert corners[1].tolist() == [10.5, 126.5, 0.0]


def _picture_of_tags(layout, warp, spread=0, blur=0.0, *, turned=False):
    """The layout's tags drawn on a pale plate and seen under a homography from plan mm to pixels (1280 x 960)."""
    scale = 12  # pixels a mm of the flat drawing
    width, height = (round(v * scale) for v in layout.plan_size_mm)
    flat = np.full((height, width), 200, np.uint8)
    dictionary = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_APRILTAG_36h11)
    for tag in layout.tags:
        side = round(tag.size_mm * scale)
        cells = np.where(cv2.aruco.generateImageMarker(dictionary, tag.id, side) > 0, 200, 30).astype(
            np.uint8
        )
        cells = cells[::-1, ::-1] if turned else cells
        left, top = (
            round(tag.centre_mm[0] * scale - side / 2),
            round((layout.plan_size_mm[1] - tag.centre_mm[1]) * scale - side / 2),
        )
        flat[top : top + side, left : left + side] = cells
    if spread:
        flat = cv2.dilate(flat, np.ones((spread, spread), np.uint8))
    to_plan = np.array(
        [[1 / scale, 0, 0.5 / scale], [0, -1 / scale, layout.plan_size_mm[1] - 0.5 / scale], [0, 0, 1]]
    )
    soft = cv2.GaussianBlur(flat, (0, 0), 1.5)
    seen = cv2.warpPerspective(soft, warp @ to_plan, (1280, 960), flags=cv2.INTER_AREA, borderValue=60)
    return cv2.GaussianBlur(seen, (0, 0), blur) if blur else seen


def _tilted_view(layout):
    """A camera 20 degrees off the normal, and its homography from the plan's tag plane to pixels."""
    camera = from_similarity((1280, 960), 12.0, 5.2, np.array([640.0, 480.0]), layout.middle_mm)
    camera = tilted(camera, layout.middle_mm, np.radians(20.0), 0.7)
    plan = np.array([[0, 0], [100, 0], [100, 100], [0, 100]], np.float32)
    z = layout.tags[0].z_mm
    at = camera.project(np.column_stack([plan, np.full(4, z)]).astype(np.float64)).astype(np.float32)
    return camera, cv2.getPerspectiveTransform(plan, at)


def _furthest(tag, camera):
    return float(np.linalg.norm(tag.corners_px - camera.project(corners_mm(tag.plan)), axis=1).max())


def test_corners_lie_within_a_quarter_pixel_of_where_the_camera_puts_them(job_layout):
    camera, warp = _tilted_view(job_layout)
    found, mirrored = find_tags(_picture_of_tags(job_layout, warp), job_layout)
    assert len(found) == len(job_layout.tags)
    assert mirrored == 0
    assert max(_furthest(tag, camera) for tag in found) < 0.25


def test_tags_whose_white_has_spread_over_the_black_are_recognised_where_the_decoder_gives_up(job_layout):
    camera, warp = _tilted_view(job_layout)
    picture = _picture_of_tags(job_layout, warp, spread=11)
    dictionary = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_APRILTAG_36h11)
    _, decoded, _ = cv2.aruco.ArucoDetector(dictionary).detectMarkers(picture)
    found, _ = find_tags(picture, job_layout)
    assert (0 if decoded is None else len(decoded)) < len(job_layout.tags) / 2
    assert len(found) >= len(job_layout.tags) - 1
    assert max(_furthest(tag, camera) for tag in found) < 1.0


def test_spoilt_tags_that_the_layout_does_not_name_are_not_taken_for_its_own(job_layout):
    _, warp = _tilted_view(job_layout)
    numbers = [tag.id for tag in job_layout.tags]
    for offset in (100, 200, 300, 400):
        others = tuple(replace(tag, id=(tag.id + offset) % 587) for tag in job_layout.tags)
        assert not {tag.id for tag in others} & set(numbers)
        picture = _picture_of_tags(replace(job_layout, tags=others), warp, spread=11)
        assert find_tags(picture, job_layout, thorough=True) == ((), 0)


def test_tags_seen_in_a_mirror_are_counted_and_not_found(job_layout):
    _, warp = _tilted_view(job_layout)
    picture = np.ascontiguousarray(_picture_of_tags(job_layout, warp)[:, ::-1])
    found, mirrored = find_tags(picture, job_layout)
    assert found == ()
    assert mirrored >= 5


def test_a_blurred_tag_is_found_where_the_others_put_it_and_no_other_tag_in_its_place(job_layout):
    camera, warp = _tilted_view(job_layout)
    picture = _picture_of_tags(job_layout, warp, blur=5.0)
    off = replace(camera, tvec=camera.tvec + np.array([3.0, -2.0, 0.0]))
    assert len(find_tags(picture, job_layout)[0]) < 2
    again = look_again(picture, job_layout, off, ())
    assert len(again) >= 5
    assert max(_furthest(tag, camera) for tag in again) < 2.0  # a third of a cell
    upside_down = camera.turned(
        np.array(
            [
                [-1, 0, 0, job_layout.plan_size_mm[0]],
                [0, -1, 0, job_layout.plan_size_mm[1]],
                [0, 0, 1, 0],
                [0, 0, 0, 1.0],
            ]
        )
    )
    assert look_again(picture, job_layout, upside_down, ()) == ()


def test_a_frame_printed_with_every_tag_turned_by_half_gives_the_same_place(job_layout):
    """AprilTag's own pictures are OpenCV's turned by 180 degrees: a frame may be printed from either."""
    camera, warp = _tilted_view(job_layout)
    for turned in (False, True):
        picture = _picture_of_tags(job_layout, warp, turned=turned)
        found = Registrar(job_layout).register(cv2.cvtColor(picture, cv2.COLOR_GRAY2BGR))
        assert isinstance(found, Registration)
        assert found.method == "tags"
        places = np.array([[*rotor.centre_mm, 0.0] for rotor in job_layout.rotors])
        assert np.abs(found.camera.project(places) - camera.project(places)).max() < 1.0
