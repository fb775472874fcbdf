"""The template of the plan over the whole photo: one correlation at every turn and size."""

import numpy as np
import scipy.fft

from tests.vision.scenery import invented, seen_from_above
from vision.photo import decode
from vision.search import SIDE, Finder, halves


def test_half_spectra_give_the_real_part_of_the_whole_correlation():
    """Against scipy's transform of the whole spectra."""
    chance = np.random.default_rng(5)
    one, other = (
        np.asarray(chance.normal(size=(SIDE, SIDE)) + 1j * chance.normal(size=(SIDE, SIDE)), np.complex64)
        for _ in range(2)
    )
    seen, template = scipy.fft.fft2(one), scipy.fft.fft2(other).conj()
    whole = scipy.fft.ifft2(seen * template).real
    by_halves = zip(halves(seen), halves(template), strict=True)
    half = scipy.fft.irfft2(sum(a * b for a, b in by_halves), s=(SIDE, SIDE))
    np.testing.assert_allclose(half, whole, rtol=0, atol=1e-5 * np.abs(whole).max())


def test_the_best_start_lies_on_the_switch_and_is_turned_and_sized_as_it_is():
    switch = invented(7, 3)
    truth = seen_from_above(switch.layout, (1280, 960), roll=70.0, tilt=6.0, share=0.55)
    pixels = decode(switch.photo({}, tags=False, camera=truth).photo).pixels
    best = Finder(switch.layout).candidates(pixels, 4)[0].camera
    middle = switch.layout.middle_mm
    apart_px = np.linalg.norm(best.project(middle[None]) - truth.project(middle[None]))
    assert apart_px < 8.0 * truth.px_per_mm(middle)
    assert 0.85 < best.px_per_mm(middle) / truth.px_per_mm(middle) < 1.18
    assert np.degrees(np.arccos(np.clip(best.rotation[:, 0] @ truth.rotation[:, 0], -1, 1))) < 15.0
