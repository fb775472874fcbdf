"""A phone's camera after the lens: focus, motion, exposure, noise, colour, tone, sharpening, JPEG."""

from dataclasses import dataclass

import cv2
import numpy as np
import numpy.typing as npt

Reals = npt.NDArray[np.float32]
Pixels = npt.NDArray[np.uint8]


@dataclass(frozen=True)
class Exposure:
    """Settings of one shot.

    Attributes
    ----------
    defocus_px, motion_px : float
        Diameter of the blur disc, length of the motion; `motion_deg` its direction.
    gain : float
        Brightness; 1 puts a mid grey of 0.18 where a good exposure has it.
    noise : float
        Standard deviation of shot noise at mid grey, in linear light.
    warmth : float
        White balance error, -1 blue to 1 orange.
    contrast, sharpening : float
        Steepness of the tone curve, strength of the unsharp mask.
    quality : int
        JPEG quality.

    """

    defocus_px: float = 0.0
    motion_px: float = 0.0
    motion_deg: float = 0.0
    gain: float = 1.0
    noise: float = 0.01
    warmth: float = 0.0
    contrast: float = 0.4
    sharpening: float = 0.5
    quality: int = 88

    @property
    def blur_px(self) -> float:
        """Both blurs together: root of the sum of squares."""
        return float(np.hypot(self.defocus_px, self.motion_px))


def develop(linear: Reals, shot: Exposure, chance: np.random.Generator) -> Pixels:
    """Turn linear light (red, green, blue) into the picture's pixels (blue, green, red)."""
    light = _blurred(linear, shot) * np.float32(shot.gain)
    balance = np.array([1 + 0.25 * shot.warmth, 1.0, 1 - 0.3 * shot.warmth], np.float32)
    light = np.maximum(light * balance, 0)
    spread = np.sqrt(light * np.float32(shot.noise**2 / 0.18) + np.float32(shot.noise**2 / 12))
    light = light + spread * chance.normal(size=light.shape).astype(np.float32)
    light = cv2.GaussianBlur(light, (0, 0), 0.6)  # the phone's own denoising leaves soft grain
    tone = np.clip(light, 0, 1) ** np.float32(1 / 2.2)
    curved = tone + np.float32(shot.contrast) * tone * (1 - tone) * (2 * tone - 1)
    soft = cv2.GaussianBlur(curved, (0, 0), 1.4)
    sharp = np.clip(curved + np.float32(shot.sharpening) * (curved - soft), 0, 1)
    return np.ascontiguousarray((sharp[:, :, ::-1] * 255 + 0.5).astype(np.uint8))


def _blurred(linear: Reals, shot: Exposure) -> Reals:
    seen = linear
    if shot.defocus_px > 0.8:
        side = int(np.ceil(shot.defocus_px)) | 1
        axis = np.arange(side) - side // 2
        disc = np.clip(shot.defocus_px / 2 - np.hypot(*np.meshgrid(axis, axis)) + 0.5, 0, 1).astype(
            np.float32
        )
        seen = np.asarray(cv2.filter2D(seen, -1, disc / disc.sum()), np.float32)
    if shot.motion_px > 0.8:
        side = int(np.ceil(shot.motion_px)) | 1
        line = np.zeros((side, side), np.float32)
        turn = np.radians(shot.motion_deg)
        half = shot.motion_px / 2 * np.array([np.cos(turn), np.sin(turn)])
        start, end = side / 2 - half, side / 2 + half
        cv2.line(line, (int(start[0]), int(start[1])), (int(end[0]), int(end[1])), 1.0, 1, cv2.LINE_AA)
        seen = np.asarray(cv2.filter2D(seen, -1, line / line.sum()), np.float32)
    return seen


def jpeg(pixels: Pixels, quality: int) -> bytes:
    """Encode as JPEG."""
    return bytes(cv2.imencode(".jpg", pixels, [cv2.IMWRITE_JPEG_QUALITY, quality])[1])
