"""The sheets and modules: contrast of the colours, sizes of what is pressed, imports that lead somewhere."""

import re

import pytest

from service.pages.rendering import FOLDER

STATIC = FOLDER / "static"
SHEET = (STATIC / "look.css").read_text()
MODULES = sorted(STATIC.glob("*.js"))
TEXT, BIG = 4.5, 3.0


def tokens(block):
    return dict(re.findall(r"--([a-z-]+):\s*(#[0-9A-Fa-f]{6})", block))


def luminance(colour):
    parts = [int(colour[place : place + 2], 16) / 255 for place in (1, 3, 5)]
    linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
    return sum(weight * part for weight, part in zip((0.2126, 0.7152, 0.0722), linear, strict=True))


def contrast(one, other):
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


DAY, DARK, NIGHT = (tokens(block) for block in re.findall(r":root[^{]*\{([^}]*)\}", SHEET)[:3])


@pytest.mark.outside(source="WCAG 2.2, 1.4.3 and 1.4.11, with its definition of relative luminance")
@pytest.mark.parametrize("light", [DAY, NIGHT], ids=["day", "night"])
def test_what_is_read_stands_out_from_what_it_stands_on(light):
    for ground in ("paper", "card"):
        for ink in ("ink", "soft", "act", "doubt", "against"):
            assert contrast(light[ink], light[ground]) >= TEXT, (ink, ground)
        assert contrast(light["line"], light[ground]) >= BIG, ground
    assert contrast(light["on-act"], light["act"]) >= TEXT
    assert contrast(light["on-band"], light["band"]) >= TEXT
    assert contrast(light["ink"], light["mark"]) >= TEXT


@pytest.mark.outside(source="WCAG 2.2, relative luminance: black on white is 21 to 1")
def test_the_contrast_of_black_on_white_is_as_published():
    assert contrast("#000000", "#FFFFFF") == pytest.approx(21.0)


def test_the_night_that_the_device_chooses_is_the_night_of_the_switch():
    assert DARK == NIGHT
    assert set(DAY) == set(NIGHT)


def test_targets_are_72_px_high_and_12_px_apart():
    assert "--target: 72px" in SHEET
    assert "--gap: 12px" in SHEET


def test_nothing_on_the_phone_is_set_smaller_than_16_px():
    for sheet in (STATIC / "capture.css", STATIC / "look.css"):
        sizes = [float(size) for size in re.findall(r"font-size:\s*([\d.]+)rem", sheet.read_text())]
        smaller = [size for size in sizes if size < 1]
        assert smaller in ([], [0.9375] * len(smaller)), sheet
    assert (
        "body.capture .soft, body.capture .hint, body.capture table { font-size: 1rem; }"
        in (STATIC / "capture.css").read_text()
    )


@pytest.mark.parametrize("module", MODULES, ids=lambda module: module.name)
def test_every_module_imports_only_its_neighbours_and_each_is_there(module):
    text = module.read_text()
    imported = re.findall(r'(?:from|import)\s*\(?\s*"([^"]+)"', text)
    assert all(name.startswith("./") and (STATIC / name).is_file() for name in imported)
    assert "innerHTML" not in text
    assert "eval(" not in text
    assert set(re.findall(r"https?://[\w./-]*", text)) <= {"http://www.w3.org/2000/svg"}, "only a namespace"
