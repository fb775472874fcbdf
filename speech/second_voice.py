"""Whether two people speak at once: a second pitch beside the first.

In each frame of 40 ms the period of the voice is found as the lag at which the sound differs least from itself,
and the sound one such period earlier is taken from it, which cancels that voice whole (A. de Cheveigné, "Separation
of concurrent harmonic sounds", J. Acoust. Soc. Am. 93, 1993). What is left of one voice is weak or has no pitch,
and so is what is left of noise; what is left of two voices is the other voice, with a pitch of its own. A second
voice is one whose pitch holds for two frames in a row.

Noise as loud as the second voice hides it, and so does a voice that is much weaker: this finds voices that could
take a word's place. The bounds were set on single voices, clean and in noise, and mixtures of the same voices;
figures in training/README.md.
"""

from typing import Any, Final

import numpy as np

from speech.recogniser import RATE, Samples

_Frames = np.ndarray[Any, np.dtype[np.float64]]
_Lags = np.ndarray[Any, np.dtype[np.intp]]

_HALVED: Final = RATE // 2
_SHORTEST: Final = _HALVED // 400  # periods of 400 down to 70 Hz
_LONGEST: Final = _HALVED // 70
_FRAME: Final = _HALVED // 25
_STEP: Final = _HALVED // 50
_TRANSFORM: Final = 1024
_LOUD_DB: Final = -25.0  # of the loudest twentieth of the frames
_VOICED: Final = 0.6  # share of a frame that its own last period does not explain
_SECOND: Final = 0.4
_LEFT_DB: Final = -8.0
_SAME_PITCH: Final = 0.08
_MULTIPLES: Final = (0.5, 1.0, 2.0, 3.0, 4.0)
_NEAR_MULTIPLE: Final = 0.09
_FALSE_DIP: Final = 0.05  # a shorter period is preferred where it explains nearly as much


def second_voice(samples: Samples) -> bool:
    """Whether a second pitch holds for two frames somewhere in 16 kHz mono samples."""
    frames = _frames(samples)
    if len(frames) < 2:
        return False
    unlike, power = _unlike(frames[:, _LONGEST:])
    first = _periods(unlike)
    voiced = unlike[np.arange(len(first)), first - _SHORTEST]
    left = np.stack([f[_LONGEST:] - f[_LONGEST - t : len(f) - t] for f, t in zip(frames, first, strict=True)])
    unlike, remains = _unlike(left)
    unlike[_multiples(first)] = 1.0
    second = unlike.argmin(axis=1) + _SHORTEST
    found = (
        (unlike.min(axis=1) < _SECOND)
        & (voiced < _VOICED)
        & (remains / 2 > power * 10 ** (_LEFT_DB / 10))
        & (power > np.percentile(power, 95) * 10 ** (_LOUD_DB / 10))
    )
    steady = np.abs(second[1:] / second[:-1] - 1) < _SAME_PITCH
    return bool(np.any(found[1:] & found[:-1] & steady))


def unlike_itself(samples: Samples) -> _Frames:
    """For each frame and period: 0 where the frame repeats itself, 1 where it has nothing in common with it."""
    return _unlike(_frames(samples)[:, _LONGEST:])[0]


def _frames(samples: Samples) -> _Frames:
    """Overlapping frames at 8 kHz, each with two longest periods before it."""
    pairs = samples[: len(samples) // 2 * 2].astype(np.float64).reshape(-1, 2).mean(axis=1)
    smooth = (pairs + np.diff(pairs, prepend=pairs[:1])) / 2
    whole = _FRAME + 2 * _LONGEST
    if len(smooth) < whole:
        return np.zeros((0, whole))
    return np.lib.stride_tricks.sliding_window_view(smooth, whole)[::_STEP]


def _unlike(sound: _Frames) -> tuple[_Frames, _Frames]:
    """For each frame and lag: 0 where the frame repeats itself, 1 where it has nothing in common; and its power."""
    length = sound.shape[1]
    start = length - _FRAME - np.arange(_SHORTEST, _LONGEST + 1)
    energy = np.cumsum(np.pad(sound**2, ((0, 0), (1, 0))), axis=1)
    whole = np.fft.rfft(sound, _TRANSFORM, axis=1)
    last = np.fft.rfft(sound[:, -_FRAME:], _TRANSFORM, axis=1)
    common = np.fft.irfft(whole * np.conj(last), _TRANSFORM, axis=1)[:, start]
    earlier = energy[:, start + _FRAME] - energy[:, start]
    power = energy[:, length] - energy[:, length - _FRAME]
    both = earlier + power[:, None]
    return (both - 2 * common) / (both + 1e-9), power


def _periods(unlike: _Frames) -> _Lags:
    """The shortest lag of each frame that explains nearly as much as the best, at the foot of its dip."""
    good = unlike <= unlike.min(axis=1, keepdims=True) + _FALSE_DIP
    at, row = good.argmax(axis=1), np.arange(len(unlike))
    for _ in range(8):
        further = np.minimum(at + 1, unlike.shape[1] - 1)
        at = np.where(unlike[row, further] < unlike[row, at], further, at)
    return np.asarray(at + _SHORTEST)


def _multiples(first: _Lags) -> np.ndarray[Any, np.dtype[np.bool_]]:
    """Lags at which what is left of the first voice itself would repeat."""
    ratio = np.arange(_SHORTEST, _LONGEST + 1)[None, :] / first[:, None]
    near = [np.abs(ratio - k) < _NEAR_MULTIPLE * max(k, 1.0) for k in _MULTIPLES]
    return np.asarray(np.any(near, axis=0))
