"""Looks straight at a rotor: a square of the photo around a plan point, free of perspective and lens.

A patch has its own frame: x right and y up as in the plan, `px_per_mm` pixels a millimetre, middle pixel at
the given plan point. Row numbers run down, so y = -(row - middle).
"""

from dataclasses import dataclass

import cv2
import numpy as np
import numpy.typing as npt

from vision.camera import Camera

Floats = npt.NDArray[np.float64]
Reals = npt.NDArray[np.float32]

PX_PER_MM = 6.0  # photos hold 3 to 10 pixels a millimetre; finer patches cost time and show nothing more
BLUR_MM = 0.35  # smooths noise and ribs, leaves bar edges (a bar is 4 mm and more wide)


@dataclass(frozen=True)
class Patch:
    """One rectified square.

    Attributes
    ----------
    lab : (n, n, 3) float32
        CIE L*a*b*, smoothed.
    gx, gy : (n, n, 3) float32
        Gradient along plan x and plan y, Lab units a millimetre.
    power : (n, n) float32
        Squared length of the gradient over both directions and all channels.
    inside : (n, n) bool
        Pixels that lie in the photo.
    clipped : (n, n) bool
        Pixels at the white end.
    px_per_mm : float

    """

    lab: Reals
    gx: Reals
    gy: Reals
    power: Reals
    inside: npt.NDArray[np.bool_]
    clipped: npt.NDArray[np.bool_]
    px_per_mm: float

    @property
    def half(self) -> int:
        """Pixels from the middle to the rim."""
        return int(self.lab.shape[0] // 2)


def sampling_maps(
    camera: Camera, centre_mm: Floats, z_mm: float, radius_mm: float, px_per_mm: float
) -> tuple[Reals, Reals]:
    """Photo coordinates (x, y) of a patch's pixels; the map is smooth, so a coarse grid is interpolated."""
    half = round(radius_mm * px_per_mm)
    knots = np.linspace(-half, half, 13)
    gx, gy = np.meshgrid(knots / px_per_mm + centre_mm[0], -knots / px_per_mm + centre_mm[1])
    seen = camera.project(np.column_stack([gx.ravel(), gy.ravel(), np.full(gx.size, z_mm)])).reshape(
        13, 13, 2
    )
    size = 2 * half + 1
    # cv2.resize samples at pixel middles; this affine maps patch pixel 0 to knot 0 and pixel 2*half to knot
    # 12.
    step = 12 / (size - 1)
    affine = np.array([[step, 0, 0], [0, step, 0]])
    flags = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
    border = cv2.BORDER_REPLICATE
    maps = [
        cv2.warpAffine(seen[:, :, i].astype(np.float32), affine, (size, size), flags=flags, borderMode=border)
        for i in (0, 1)
    ]
    return np.asarray(maps[0], np.float32), np.asarray(maps[1], np.float32)


def cut(
    pixels: npt.NDArray[np.uint8],
    camera: Camera,
    centre_mm: Floats,
    z_mm: float,
    radius_mm: float,
) -> Patch:
    """Cut one patch out of the photo and take its gradients."""
    scale = PX_PER_MM
    mx, my = sampling_maps(camera, centre_mm, z_mm, radius_mm, scale)
    height, width = pixels.shape[:2]
    inside = (mx >= 0) & (my >= 0) & (mx <= width - 1) & (my <= height - 1)
    flat = cv2.remap(pixels, mx, my, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    lab = cv2.cvtColor(flat.astype(np.float32) / np.float32(255), cv2.COLOR_BGR2Lab)
    lab = cv2.GaussianBlur(lab, (0, 0), BLUR_MM * scale)
    gx = cv2.Scharr(lab, cv2.CV_32F, 1, 0) * np.float32(scale / 32)
    gy = cv2.Scharr(lab, cv2.CV_32F, 0, 1) * np.float32(-scale / 32)
    clipped = cv2.max(cv2.max(flat[..., 0], flat[..., 1]), flat[..., 2]) >= 250
    # Sums over three channels: OpenCV takes a fifth of numpy's time for them.
    power = np.asarray(cv2.transform(gx * gx + gy * gy, np.ones((1, 3), np.float32)), np.float32)
    return Patch(np.asarray(lab, np.float32), gx, gy, power, inside, clipped, scale)
