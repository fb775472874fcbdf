"""One unit or two, a new photo or an old one used again."""

import cv2
import numpy as np
import pytest
import skimage.data

from vision.sameness import bits_apart, key_of, near_duplicate, picture_key, same_unit


@pytest.mark.outside(source="ImageHash 4.3.2 phash of scikit-image's camera picture: bff1c1c0434e8cbc")
def test_the_key_of_a_sample_picture_is_the_published_one():
    assert f"{key_of(skimage.data.camera()):016x}" == "bff1c1c0434e8cbc"


@pytest.mark.outside(
    source="ImageHash 4.3.2: the key of the camera picture turned upside down lies 32 bits away"
)
def test_a_picture_upside_down_has_a_far_key():
    picture = skimage.data.camera()
    assert bits_apart(key_of(picture), key_of(np.ascontiguousarray(picture[::-1]))) == 32


def test_a_cropped_and_recompressed_copy_is_near_and_another_photo_is_not(job_photo):
    assert near_duplicate(picture_key(job_photo(5)), picture_key(job_photo(15)))
    coded = cv2.imdecode(np.frombuffer(job_photo(8), np.uint8), cv2.IMREAD_COLOR)
    again = cv2.imencode(".jpg", coded, [cv2.IMWRITE_JPEG_QUALITY, 30])[1].tobytes()
    assert bits_apart(picture_key(job_photo(8)), picture_key(again)) <= 2
    assert not near_duplicate(picture_key(job_photo(5)), picture_key(job_photo(6)))
    assert not near_duplicate(picture_key(job_photo(8)), picture_key(job_photo(9)))


def test_two_photos_of_one_unit_are_told_from_those_of_another(job_reader, job_photo):
    photos = {n: job_photo(n) for n in (1, 7, 14)}
    readings = {n: job_reader.read(photo) for n, photo in photos.items()}
    same = same_unit(photos[1], readings[1], photos[7], readings[7], job_reader.layout)
    other = same_unit(photos[1], readings[1], photos[14], readings[14], job_reader.layout)
    assert (same.verdict, other.verdict) == ("yes", "no")
    assert same.agreement > other.agreement + 0.2
    assert "places" in same.reason


def test_without_the_switch_nothing_is_said_about_the_unit(job_reader, job_photo):
    empty = cv2.imencode(".jpg", np.full((400, 600, 3), 70, np.uint8))[1].tobytes()
    verdict = same_unit(
        empty, job_reader.read(empty), job_photo(1), job_reader.read(job_photo(1)), job_reader.layout
    )
    assert verdict.verdict == "cannot say"
