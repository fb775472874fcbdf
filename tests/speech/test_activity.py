import numpy as np
import pytest

from speech.activity import level_of, still_until

CHANCE = np.random.default_rng(5)


def noise(dbfs, seconds=1.0):
    return np.clip(
        CHANCE.normal(size=int(16_000 * seconds)) * 32_768 * 10 ** (dbfs / 20), -32_768, 32_767
    ).astype(np.int16)


@pytest.mark.outside(
    source="definition of dBFS: full-scale square wave 0, sine -3.01 (AES17 counts the sine as 0)"
)
def test_levels_are_root_mean_square_over_full_scale():
    clock = np.arange(16_000) / 16_000
    sine = (32_767 * np.sin(2 * np.pi * 500 * clock)).astype(np.int16)
    assert level_of(sine).speech_dbfs == pytest.approx(-3.01, abs=0.05)


@pytest.mark.parametrize("dbfs", [-20, -40, -60])
def test_the_level_of_noise_is_found(dbfs):
    assert level_of(noise(dbfs)).speech_dbfs == pytest.approx(dbfs, abs=1.5)


@pytest.mark.parametrize(
    ("samples", "problem"),
    [
        (np.zeros(16_000, np.int16), "silent"),
        (np.full(16_000, 900, np.int16), "silent"),
        (noise(-90), "silent"),
        (noise(-66), "too_quiet"),
        (noise(-50), None),
        (noise(-12), None),
        (noise(12), "clipped"),
        (np.zeros(10, np.int16), "silent"),
    ],
)
def test_the_problem_of_a_sound_is_named(samples, problem):
    assert level_of(samples).problem() == problem


def test_a_few_clipped_peaks_are_no_problem():
    samples = noise(-30)
    samples[100:200] = 32_767
    assert level_of(samples).problem() is None


def test_a_still_beginning_is_told_and_a_noisy_one_is_left():
    word = noise(-25, 0.5)
    still = np.concatenate([noise(-70, 1.0), word])
    assert still_until(still) == pytest.approx(16_000, abs=320)
    assert still_until(np.concatenate([noise(-40, 1.0), word])) == 0
    assert still_until(noise(-70)) == 0
    assert still_until(np.zeros(100, np.int16)) == 0


def test_quiet_words_before_a_loud_one_are_not_still():
    sound = np.concatenate([noise(-70, 0.5), noise(-45, 0.4), noise(-70, 0.2), noise(-25, 0.5)])
    assert still_until(sound) <= 0.52 * 16_000
