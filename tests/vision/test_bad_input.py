"""Hard and impossible input as real files: what is refused says why in words, what can be read is read the same."""

import io
import json
import resource
from functools import cache

import cv2
import numpy as np
import pytest
from PIL import Image

from tests.vision.scenery import Switch, invented, seen_from_above
from tests.vision.test_photo import encoded
from vision import Reader, load_layout
from vision.angles import apart, signed
from vision.photo import upright
from vision.render import render
from vision.scenes import as_bytes, random_layout

ALONG = {"R1": "upper", "R2": "lower", "R3": "upper"}


@cache
def tags_only() -> tuple[Switch, Reader]:
    """A switch whose layout has tags and no reference photo."""
    return invented(7, 3), Reader(load_layout(as_bytes(random_layout(7, 3))))


@cache
def tagged() -> tuple[bytes, np.ndarray]:
    shown = invented(7, 3).photo(ALONG)
    return shown.photo, shown.pixels


def coded(pixels: np.ndarray, quality: int = 92) -> bytes:
    return cv2.imencode(".jpg", pixels, [cv2.IMWRITE_JPEG_QUALITY, quality])[1].tobytes()


def right(reading, along: dict[str, str]) -> int:
    """Number of bars called; each must be called as it lies."""
    called = [bar for bar in reading.bars if bar.state in ("along", "across")]
    assert all((bar.state == "along") == (along[bar.rotor] == bar.bar) for bar in called)
    return len(called)


def test_a_layout_with_tags_alone_reads_a_photo_with_tags():
    reading = tags_only()[1].read(tagged()[0])
    assert reading.method == "tags"
    assert right(reading, ALONG) >= 4


def test_a_layout_with_tags_alone_refuses_a_photo_without_them_and_says_what_to_do():
    switch, reader = tags_only()
    reading = reader.read(switch.photo(ALONG, tags=False).photo)
    assert reading.verdict == "refused"
    assert "no reference photo" in reading.reason
    assert "Fit the tag frame" in reading.reason
    assert set(reading.contacts.values()) <= {"unknown"}


def test_without_tags_a_switch_of_one_rotor_is_never_called_and_says_what_to_do():
    switch = invented(21, 1)
    camera = seen_from_above(switch.layout, (1280, 960), roll=5.0)
    reading = switch.reader.read(switch.photo({}, camera=camera, tags=False).photo)
    assert reading.verdict == "refused"
    assert set(reading.contacts.values()) <= {"unknown"}
    assert "tag" in reading.reason


def test_a_reference_of_another_unit_serves_a_photo_of_the_same_type():
    switch = invented(7, 3)  # its reference shows unit 0
    reading = switch.reader.read(switch.photo(ALONG, tags=False, unit=41).photo)
    assert right(reading, ALONG) >= 4


def test_a_photo_of_another_type_is_not_read_with_this_types_reference():
    reading = invented(7, 3).reader.read(invented(12, 3).photo({}).photo)
    assert reading.verdict == "refused"
    assert reading.reason


@pytest.mark.parametrize("level", [0, 255])
def test_a_black_or_white_frame_is_refused_by_a_layout_with_and_without_reference(level):
    frame = coded(np.full((960, 1280, 3), level, np.uint8))
    for reader in (invented(7, 3).reader, tags_only()[1]):
        reading = reader.read(frame)
        assert reading.verdict == "refused"
        assert reading.reason.endswith(".")


def test_a_panorama_of_100_megapixels_is_refused_before_its_pixels_take_memory():
    panorama = encoded(Image.new("L", (20_000, 5_000), 90), "JPEG", quality=40)
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    reading = invented(7, 3).reader.read(panorama)
    grown_mb = (resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before) / 1024
    assert reading.verdict == "refused"
    assert "100 megapixels" in reading.reason
    assert grown_mb < 50  # decoded it would be 300


def test_a_switch_in_a_twentieth_of_a_portrait_is_read_right_or_refused():
    switch, size = invented(7, 3), (1200, 1600)
    width, height = switch.layout.plan_size_mm
    share = np.sqrt(0.05 * size[0] * size[1] / (width * height)) / min(size[0] / width, size[1] / height)
    camera = seen_from_above(switch.layout, size, share=float(share))
    reading = switch.reader.read(switch.photo(ALONG, camera=camera, size=size).photo)
    right(reading, ALONG)
    assert reading.verdict == "read" or reading.reason


@pytest.mark.outside(
    source="EXIF 2.32 / TIFF 6.0 tag 274: how stored rows and columns lie in the shown picture"
)
@pytest.mark.parametrize("orientation", range(1, 9))
def test_a_reading_does_not_depend_on_how_the_pixels_are_stored(orientation):
    photo, pixels = tagged()
    back = {6: 8, 8: 6}.get(orientation, orientation)
    stored = upright(pixels, back)
    file = encoded(Image.fromarray(stored[:, :, ::-1]), "JPEG", orientation, quality=92)
    with Image.open(io.BytesIO(file)) as opened:
        assert opened.getexif()[0x0112] == orientation
    reader = invented(7, 3).reader
    one, other = reader.read(photo), reader.read(file)
    assert other.contacts == one.contacts
    assert "mirrored" not in other.reason
    for a, b in zip(one.bars, other.bars, strict=True):
        assert a.state == b.state
        assert a.angle_deg is None or float(apart(a.angle_deg, b.angle_deg)) < 0.8


@pytest.mark.outside(
    source="geometry of a tilted disc: tan(seen) = tan(true) cos(tilt), 4.117 degrees at 30 degrees and 45"
)
@pytest.mark.parametrize("seed", [7, 12])
def test_a_tilt_of_30_degrees_bends_angles_by_less_than_a_degree_in_the_mean(seed):
    switch = invented(seed, 3)
    camera = seen_from_above(switch.layout, (1280, 960), roll=200.0, tilt=30.0, share=0.72)
    upper = {
        rotor.id: 25.0 for rotor in switch.layout.rotors
    }  # 45 degrees to the axis of the tilt, seen by the camera
    scene = switch.scene({}, camera=camera, upper_deg=upper, lower_deg=dict.fromkeys(upper, 115.0))
    reading = switch.reader.read(render(scene).photo)
    off = [
        float(signed(bar.angle_deg, 25.0 if bar.bar == "upper" else 115.0))
        for bar in reading.bars
        if bar.angle_deg is not None and bar.sigma_deg < 2
    ]
    assert len(off) >= 4
    assert abs(np.mean(off)) < 1.0  # uncorrected, all would lie four degrees to one side
    assert max(map(abs, off)) < 2.5


@pytest.mark.outside(source="scikit-image sample pictures: photos that show no switch")
@pytest.mark.parametrize("name", ["coins", "chelsea"])
def test_pictures_of_other_things_are_refused_also_where_they_show_discs(name):
    data = pytest.importorskip("skimage.data", reason="install the extra [test] for scikit-image's pictures")
    picture = getattr(data, name)()
    picture = picture if picture.ndim == 3 else np.dstack([picture] * 3)
    reading = invented(7, 3).reader.read(coded(np.ascontiguousarray(picture[:, :, ::-1])))
    assert reading.verdict == "refused"
    assert set(reading.contacts.values()) <= {"unknown"}
    json.dumps(reading.to_json())
