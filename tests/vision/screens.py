"""Photographs a screen: a picture on a grid of red, green and blue stripes, seen by a sensor with a grid of its own."""

import cv2
import numpy as np

_SAMPLES = 3  # each way inside one pixel of the sensor


def photographed_screen(
    shown: np.ndarray,
    ratio: float,
    *,
    size: tuple[int, int] = (1024, 768),
    turn_deg: float = 4.0,
    blur_px: float = 0.6,
) -> np.ndarray:
    """Photo (h, w, 3) of a screen that shows a picture.

    `ratio` is sensor pixels a screen pixel; the screen is turned by `turn_deg` and a little oblique. Sampling makes the
    moire by itself: nothing draws it.
    """
    width, height = size
    wide = round(width / ratio * 1.1)
    kind = cv2.INTER_AREA if wide < shown.shape[1] else cv2.INTER_CUBIC
    picture = cv2.resize(shown, (wide, round(wide * shown.shape[0] / shown.shape[1])), interpolation=kind)
    light = (picture.astype(np.float32) / 255) ** 2.2
    c, s = np.cos(np.radians(turn_deg)), np.sin(np.radians(turn_deg))
    columns, rows = np.meshgrid(np.arange(width, dtype=np.float32), np.arange(height, dtype=np.float32))
    seen = np.zeros((height, width, 3), np.float32)
    for step in np.ndindex(_SAMPLES, _SAMPLES):
        x = columns + (step[0] + 0.5) / _SAMPLES - 0.5 - width / 2
        y = rows + (step[1] + 0.5) / _SAMPLES - 0.5 - height / 2
        depth = (1 + 5e-5 * x - 4e-5 * y) * ratio
        u = ((c * x - s * y) / depth + picture.shape[1] / 2).astype(np.float32)
        v = ((s * x + c * y) / depth + picture.shape[0] / 2).astype(np.float32)
        lit = cv2.remap(light, np.floor(u), np.floor(v), cv2.INTER_NEAREST)
        across, down = u - np.floor(u), v - np.floor(v)
        for channel, middle in ((2, 1 / 6), (1, 1 / 2), (0, 5 / 6)):
            open_here = (abs(across - middle) < 0.14) & (abs(down - 0.5) < 0.43)
            seen[..., channel] += lit[..., channel] * open_here * 4.0
    seen = cv2.GaussianBlur(seen / _SAMPLES**2, (0, 0), blur_px)
    grain = np.random.default_rng(1).normal(size=seen.shape) * np.sqrt(np.maximum(seen, 0) * 1e-4 + 1e-6)
    return (np.clip(seen + grain, 0, 1) ** (1 / 2.2) * 255 + 0.5).astype(np.uint8)
