"""Bangs and hisses apart from the speech: a sound with stillness around it and no pitch is no word.

Every word has a vowel, and a vowel that is not whispered has a pitch. So where the rest is still enough to tell, a
sound without any is made as quiet as the rest before anything is heard; else a recogniser finds a short word in it
("are contact nine closed"), and a phrase is refused for a clank. Sounds with a pitch, sounds that touch the speech and
everything in loud noise stay as they are, and nothing is touched where no sound has a pitch: it might be a whisper.
"""

from typing import Any, Final

import numpy as np

from speech.activity import FRAME, STILL_DB
from speech.recogniser import Samples
from speech.second_voice import unlike_itself

APART_FRAMES: Final = 10
"""Frames of 20 ms (0.2 s) without sound that part two sounds: longer than the silence of a stop consonant."""
VOICED: Final = 0.6
"""Share of a frame that its last period does not explain, under which it has a pitch."""
_MARGIN: Final = 2
_Power = np.ndarray[Any, np.dtype[np.float64]]


def without_bangs(samples: Samples) -> Samples:
    """16 kHz mono samples with each lone sound that has no pitch brought down to the quietest tenth of the frames."""
    count = len(samples) // FRAME
    if count < APART_FRAMES:
        return samples
    frames = samples[: count * FRAME].reshape(count, FRAME).astype(np.float64)
    power = np.sqrt((frames**2).mean(axis=1)) + 1e-3
    still = float(np.percentile(power, 10))
    sounds = _sounds(power > np.percentile(power, 95) * 10 ** (-STILL_DB / 20))
    around = [slice(max(0, begin - _MARGIN), end + _MARGIN) for begin, end in sounds]
    pitched = [_has_pitch(samples[part.start * FRAME : part.stop * FRAME]) for part in around]
    if all(pitched) or not any(pitched):
        return samples
    gain = np.ones(count)
    for part, has_pitch in zip(around, pitched, strict=True):
        if not has_pitch:
            gain[part] = np.minimum(1.0, still / power[part])
    quieter = samples.copy()
    quieter[: count * FRAME] = (frames * gain[:, None]).astype(np.int16).reshape(-1)
    return quieter


def _sounds(loud: np.ndarray[Any, np.dtype[np.bool_]]) -> list[tuple[int, int]]:
    """First and behind-last frames of each run of sound, runs joined over gaps shorter than `APART_FRAMES`."""
    at = np.flatnonzero(loud)
    if not len(at):
        return []
    parts = np.flatnonzero(np.diff(at) > APART_FRAMES)
    begins, ends = at[np.r_[0, parts + 1]], at[np.r_[parts, len(at) - 1]] + 1
    return [(int(begin), int(end)) for begin, end in zip(begins, ends, strict=True)]


def _has_pitch(sound: Samples) -> bool:
    """Whether any frame of a sound repeats itself with the period of a voice."""
    unlike = unlike_itself(sound)
    return bool(unlike.size and unlike.min() < VOICED)
