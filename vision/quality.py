"""Light and focus at one rotor, measured on its patch: the reason in words when a rotor cannot be read."""

from dataclasses import dataclass

import cv2
import numpy as np

from vision.patch import BLUR_MM, Patch

# Blur (sigma, in widths of a bar) from which what cannot be read is put down to it: sharper photos fail for another
# reason. Darker, or whiter in more than this share, and the light is the reason.
BLUR_NAMED = 0.15
DARK_LIGHTNESS, GLARE_SHARE = 14.0, 0.3
_COARSE_MM = 0.7  # a second smoothing; the ratio of edge strengths under both tells the photo's own blur


@dataclass(frozen=True)
class Quality:
    """Focus and light at a rotor.

    Attributes
    ----------
    blur_mm : float
        Sigma of the photo's own blur in plan millimetres, from how much edges lose under further smoothing.
    lightness : float
        Median L* of the patch, 0 to 100.
    clipped : float
        Share of pixels at the white end.

    """

    blur_mm: float
    lightness: float
    clipped: float


def quality_of(patch: Patch) -> Quality:
    """Measure focus and light of one patch.

    An edge blurred by b has its gradient lessened by sqrt(b^2 + s^2) under a smoothing s; two smoothings give
    b.
    """
    fine = np.sqrt(np.percentile(patch.power, 97))
    extra = np.sqrt(_COARSE_MM**2 - BLUR_MM**2) * patch.px_per_mm
    lab = cv2.GaussianBlur(patch.lab, (0, 0), extra)
    gx = cv2.Scharr(lab, cv2.CV_32F, 1, 0) * (patch.px_per_mm / 32)
    gy = cv2.Scharr(lab, cv2.CV_32F, 0, 1) * (patch.px_per_mm / 32)
    coarse = np.sqrt(np.percentile((gx * gx + gy * gy).sum(axis=2), 97))
    ratio2 = float(np.clip((fine / max(float(coarse), 1e-6)) ** 2, 1.02, 3.9))
    blur2 = (_COARSE_MM**2 - ratio2 * BLUR_MM**2) / (ratio2 - 1)
    return Quality(
        blur_mm=float(np.sqrt(max(blur2, 0.0))),
        lightness=float(np.median(patch.lab[..., 0])),
        clipped=float(patch.clipped.mean()),
    )
