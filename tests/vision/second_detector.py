"""The AprilTag reference detector as a second opinion on tags."""

from functools import cache
from typing import Any

import numpy as np
import numpy.typing as npt
import pupil_apriltags


class _Kept(pupil_apriltags.Detector):
    """A detector that is never given back.

    Its binding frees the tag family before the detector that still points to it, which now and then ends the run.
    """

    def __del__(self) -> None:
        """Leave both to the end of the process."""


@cache
def _detector() -> _Kept:
    return _Kept(families="tag36h11", quad_decimate=1.0)


def second_opinion(grey: npt.NDArray[np.uint8]) -> list[Any]:
    """Tags of a picture as pupil-apriltags sees them."""
    return list(_detector().detect(grey))
