"""Tags against a second detector and against published facts of the family."""

import cv2
import numpy as np
import pupil_apriltags
import pytest

from vision.tags import corners_mm, find_tags

SECOND = "pupil-apriltags 1.0.4: the AprilTag reference detector, an independent implementation"


@pytest.mark.outside(source=SECOND)
def test_the_tags_of_a_photo_are_those_that_a_second_detector_finds(job_layout, job_photo):
    grey = cv2.imdecode(np.frombuffer(job_photo(1), np.uint8), cv2.IMREAD_GRAYSCALE)
    ours, _ = find_tags(grey, job_layout)
    theirs = {
        tag.tag_id: tag
        for tag in pupil_apriltags.Detector(families="tag36h11", quad_decimate=1.0).detect(grey)
    }
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
    second = pupil_apriltags.Detector(families="tag36h11", quad_decimate=1.0).detect(picture)
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
