"""The printed report: same facts, same bytes; pictures upright and small; what cannot be opened is named."""

import io
import shutil
import subprocess

import pytest
from PIL import Image

from service.package.build import build_package
from service.package.report_facts import report_facts
from service.package.report_print import WIDEST, print_picture, report_print
from tests.service.domain.jobs import play_to
from tests.service.journal.journals import KEY
from tests.service.package.played import STEP, SealedRig
from tests.service.package.test_report import shown


def picture(width=40, height=20, form="JPEG", **more) -> bytes:
    """Return a picture whose left half is dark and whose right half is light."""
    drawn = Image.new("RGB", (width, height), (230, 230, 230))
    drawn.paste((20, 20, 20), (0, 0, width // 2, height))
    kept = io.BytesIO()
    drawn.save(kept, form, **more)
    return kept.getvalue()


def turned(orientation: int) -> bytes:
    exif = Image.Exif()
    exif[0x0112] = orientation
    return picture(exif=exif)


@pytest.fixture(scope="module")
def photographed():
    rig = play_to(SealedRig(), STEP)
    rig.photograph_and_read({"9": "closed"}, step=STEP)
    return rig


def words_of(pdf: bytes, tmp_path) -> str:
    if shutil.which("pdftotext") is None:
        pytest.skip("pdftotext (poppler-utils) is not installed on this machine")
    (tmp_path / "report.pdf").write_bytes(pdf)
    done = subprocess.run(
        ["pdftotext", "-layout", tmp_path / "report.pdf", "-"], capture_output=True, check=True
    )
    return done.stdout.decode()


def test_the_same_facts_give_the_same_bytes(photographed):
    facts = report_facts(shown(photographed))
    first, second = (report_print(facts, lambda _: picture()) for _ in range(2))
    assert first == second
    assert first.startswith(b"%PDF-")


def test_each_page_has_its_number_the_job_and_the_head(photographed, tmp_path):
    printed = report_print(report_facts(shown(photographed)), lambda _: picture())
    pages = words_of(printed, tmp_path).rstrip("\f").split("\f")
    head = photographed.entries[-1].hash[:16]
    for number, page in enumerate(pages, start=1):
        assert f"page {number} of {len(pages)}" in page
        assert f"job job-1 · head {head}" in page


def test_print_and_page_say_the_same_doubts_and_cautions(photographed, tmp_path):
    facts = report_facts(shown(photographed))
    words = " ".join(words_of(report_print(facts, lambda _: picture()), tmp_path).split())
    assert facts["doubts"]
    assert all(doubt in words for doubt in facts["doubts"])
    assert all(caution in words for caution in facts["cautions"])


def test_a_picture_that_cannot_be_opened_is_named_and_the_report_is_still_made(photographed, tmp_path):
    printed = report_print(report_facts(shown(photographed)), lambda _: b"no picture")
    assert "cannot be printed" in words_of(printed, tmp_path)


def test_a_job_without_a_state_is_printed_too(photographed, tmp_path):
    facts = report_facts(shown(photographed, state=None))
    assert "could not be rebuilt" in " ".join(words_of(report_print(facts, lambda _: b""), tmp_path).split())


@pytest.mark.parametrize(
    "words", ["#panic()", "*bold* _x_ $y$", "<label> @ref", '"quoted" \\ back', "\u202e turned"]
)
def test_words_that_look_like_the_typesetters_own_are_printed_as_words(photographed, words):
    facts = {**report_facts(shown(photographed)), "doubts": [words]}
    assert report_print(facts, lambda _: picture()).startswith(b"%PDF-")


@pytest.mark.outside(
    source="EXIF 2.32, tag 0x0112: 3 is half a turn, 6 a quarter turn clockwise, 8 one counter-clockwise"
)
@pytest.mark.parametrize(
    ("orientation", "size", "dark"),
    [(1, (40, 20), (5, 10)), (3, (40, 20), (35, 10)), (6, (20, 40), (10, 5)), (8, (20, 40), (10, 35))],
)
def test_a_photo_is_printed_upright_as_its_exif_says(orientation, size, dark):
    with Image.open(io.BytesIO(print_picture(turned(orientation)))) as printed:
        assert printed.size == size
        assert printed.getpixel(dark)[0] < 60


def test_a_large_photo_is_printed_small_and_other_kinds_become_jpeg():
    for form in ("PNG", "WEBP", "TIFF", "JPEG"):
        with Image.open(io.BytesIO(print_picture(picture(3000, 1000, form)))) as printed:
            assert (printed.format, max(printed.size)) == ("JPEG", WIDEST)


@pytest.mark.parametrize("content", [b"", b"no picture", picture()[:200], b"\x89PNG\r\n\x1a\n" + b"\0" * 40])
def test_bytes_that_are_no_whole_picture_give_none(content):
    assert print_picture(content) is None


def test_a_picture_of_boundless_size_is_not_decoded(monkeypatch):
    monkeypatch.setattr("service.package.report_print.MOST_PIXELS", 100)
    assert print_picture(picture()) is None


def test_the_package_of_a_job_holds_its_printed_report(photographed, tmp_path):
    package = build_package(photographed.record(), photographed.read_media, KEY, tmp_path / "p")
    assert (package / "data" / "report.pdf").read_bytes().startswith(b"%PDF-")


def test_a_photo_outside_the_checkpoints_is_printed_too():
    rig = SealedRig()
    photo = rig.photograph_and_read({"9": "closed"}, step="prepare")
    asked = []
    report_print(report_facts(shown(rig)), lambda path: asked.append(path) or picture())
    assert f"media/{photo.media}.jpg" in asked
    assert len(asked) == len(rig.store)
