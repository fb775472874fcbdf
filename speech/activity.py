"""Is there anything to hear: the level of the speech, full-scale samples, silence.

Levels are dBFS: 20 log10 of the root mean square over full scale (32 768), in frames of 20 ms.
"""

from dataclasses import dataclass
from typing import Any, Final

import numpy as np

Samples = np.ndarray[Any, np.dtype[np.int16]]
FRAME: Final = 320
FULL: Final = 32_768.0
SILENT_DBFS: Final = -75.0
QUIET_DBFS: Final = -62.0
CLIPPED_SHARE: Final = 0.15
STILL_DB: Final = 25.0
_FULL_SCALE: Final = 32_600


@dataclass(frozen=True)
class Level:
    """Level of the loudest twentieth of the frames, of the quietest, and the share of full-scale samples."""

    speech_dbfs: float
    rest_dbfs: float
    clipped: float

    def problem(self) -> str | None:
        """Why nothing can be heard: `silent`, `too_quiet`, `clipped`; None when all is well."""
        if self.speech_dbfs < SILENT_DBFS:
            return "silent"
        if self.speech_dbfs < QUIET_DBFS:
            return "too_quiet"
        return "clipped" if self.clipped > CLIPPED_SHARE else None


def level_of(samples: Samples) -> Level:
    """The level of a sound of at least one frame; shorter sounds count as silent."""
    count = len(samples) // FRAME
    if not count:
        return Level(-np.inf, -np.inf, 0.0)
    frames = samples[: count * FRAME].reshape(count, FRAME).astype(np.float64)
    frames -= frames.mean(axis=1, keepdims=True)  # a steady offset is no sound
    power = np.sqrt((frames**2).mean(axis=1))
    loud, rest = np.percentile(power, [95, 10])
    share = float(np.mean(np.abs(samples.astype(np.int32)) >= _FULL_SCALE))
    return Level(_decibels(loud), _decibels(rest), share)


def still_until(samples: Samples) -> int:
    """How many samples at the beginning are surely no speech: so much quieter than the rest that noise is no doubt.

    0 where the noise comes within `STILL_DB` of the speech, or where nothing is said.
    """
    count = len(samples) // FRAME
    if not count:
        return 0
    power = np.sqrt((samples[: count * FRAME].reshape(count, FRAME).astype(np.float64) ** 2).mean(axis=1))
    loud = np.flatnonzero(power > np.percentile(power, 95) * 10 ** (-STILL_DB / 20))
    return int(loud[0]) * FRAME if len(loud) and _decibels(np.percentile(power, 95)) > QUIET_DBFS else 0


def _decibels(rms: float) -> float:
    return float(20 * np.log10(max(rms, 1e-3) / FULL))
