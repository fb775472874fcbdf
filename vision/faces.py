"""Whether a lower bar's face is there, between its fingers, or only the drum below them."""

import numpy as np
import numpy.typing as npt

from vision.layout import RotorPlan
from vision.patch import Patch

Floats = npt.NDArray[np.float64]

# Strips along a bar, in halves of its width: its face where two fingers leave it free, and what lies on either side.
_FACE, _BESIDE = np.linspace(-0.28, 0.28, 7), np.array([1.19, 1.27, 1.35, 1.43, 1.48])
_ALONG = 12  # samples from the disc's rim to near the bar's end
# A shadow across both strips changes lightness first: it counts less than colour.
_WEIGHTS = np.array([0.6, 1.0, 1.0])


def face_contrast(patch: Patch, rotor: RotorPlan, angle_deg: float) -> float:
    """How far a lower bar's face at an angle differs from what lies beside it (Lab), at the better of its two ends.

    `patch` lies at the bar's height. Fingers draw the long edges of a bar that is not there; a face between them they
    do not draw.
    """
    turn = np.radians(angle_deg)
    along, across = np.array([np.cos(turn), np.sin(turn)]), np.array([-np.sin(turn), np.cos(turn)])
    reach = rotor.lower.length_mm / 2 - rotor.upper_disc_radius_mm
    steps = rotor.upper_disc_radius_mm + np.linspace(0.1, 0.84, _ALONG) * reach
    half = rotor.lower.width_mm / 2
    beside = np.concatenate([-_BESIDE, _BESIDE])
    found = []
    for end in (1.0, -1.0):
        middle = end * steps[:, None, None] * along
        face, other = (
            np.median(_colours(patch, middle + half * strips[:, None] * across), axis=0)
            for strips in (_FACE, beside)
        )
        found.append(float(np.linalg.norm((face - other) * _WEIGHTS)))
    return max(found)


def _colours(patch: Patch, points: Floats) -> Floats:
    """Lab at points (…, 2) about the patch's middle, one a row."""
    flat, last = points.reshape(-1, 2), patch.lab.shape[0] - 1
    columns = np.clip(np.rint(flat[:, 0] * patch.px_per_mm + patch.half).astype(int), 0, last)
    rows = np.clip(np.rint(patch.half - flat[:, 1] * patch.px_per_mm).astype(int), 0, last)
    return np.asarray(patch.lab[rows, columns], np.float64)
