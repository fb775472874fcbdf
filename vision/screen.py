"""Notices a photographed screen by the regular grid of its pixels, or by the stripes where grid and sensor beat.

A screen puts narrow peaks into the spectrum all over the picture. Scenes have them in places only (a terminal strip, a
knurled rim), and a JPEG's blocks have them on both axes. So tiles all over the picture are transformed one by one, the
axes are left out, and the figure is the median over tiles of how far the strongest peak stands out of a ring around it
(a straight edge makes a ridge, which the ring crosses).

What cannot be noticed: a screen whose grid the photo does not hold (out of focus, or finer than the lens resolves), a
screen held exactly square to the sensor, a projection, a good print. A frame around the picture is not looked for: open
housings have dark straight rims of their own.
"""

import cv2
import numpy as np
import numpy.typing as npt

Reals = npt.NDArray[np.float32]

# Natural logarithm of a peak's power over what is around it, median over tiles. Photos of scenes reach 1.15 (resaved,
# rescaled and turned ones and pictures of other things too); photographed screens begin at about 2.
SCREEN_FROM = 1.6
_SIDE = 256
_ACROSS, _DOWN = 4, 3  # tiles; of a larger picture the gaps between them are not looked at
# Cycles a pixel: below, scenes have structure of their own.
_LOWEST = 0.08
# Bins from both axes that are left out: JPEG blocks and rows of the sensor lie there.
_AXIS = 3
# Around a lone peak the spectrum falls off within these bins; along the ridge of a straight edge it does not.
_RING = (5.0, 9.0)
_TRIES = 3  # peaks of a tile that are looked at, the highest first
# A tile with less contrast (of 255) than this shows nothing, a screen's grid included.
_FLAT = 0.7


def _masks() -> tuple[Reals, npt.NDArray[np.bool_]]:
    window = np.outer(np.hanning(_SIDE), np.hanning(_SIDE)).astype(np.float32)
    rows = np.abs(np.fft.fftfreq(_SIDE))[:, None]
    columns = np.fft.rfftfreq(_SIDE)[None]
    radius = np.hypot(rows, columns)
    counted = (radius > _LOWEST) & (radius < 0.5)
    counted &= (rows > (_AXIS - 0.5) / _SIDE) & (columns > (_AXIS - 0.5) / _SIDE)
    return window, counted


def _ring() -> tuple[npt.NDArray[np.intp], npt.NDArray[np.intp]]:
    reach = np.arange(-int(_RING[1]), int(_RING[1]) + 1)
    rows, columns = np.meshgrid(reach, reach, indexing="ij")
    far = np.hypot(rows, columns)
    here = (far >= _RING[0]) & (far <= _RING[1])
    return rows[here].astype(np.intp), columns[here].astype(np.intp)


_WINDOW, _COUNTED = _masks()
_RING_ROWS, _RING_COLUMNS = _ring()


def grid_figure(pixels: npt.NDArray[np.uint8]) -> float:
    """Measure how regular a picture's finest structure is; 0 where no tile shows anything.

    Parameters
    ----------
    pixels : (h, w, 3) uint8
        A decoded photo.

    """
    height, width = pixels.shape[:2]
    if min(height, width) < _SIDE:
        return 0.0
    across, down = (_ACROSS, _DOWN) if width >= height else (_DOWN, _ACROSS)
    lefts = np.unique(np.linspace(0, width - _SIDE, across).astype(int))
    tops = np.unique(np.linspace(0, height - _SIDE, down).astype(int))
    figures = [_peak(pixels[y : y + _SIDE, x : x + _SIDE]) for y in tops for x in lefts]
    seen = [figure for figure in figures if figure is not None]
    return float(np.median(seen)) if len(seen) >= 3 else 0.0


def shows_screen(pixels: npt.NDArray[np.uint8]) -> bool:
    """Say whether a photo was taken of a screen, as far as its grid tells."""
    return grid_figure(pixels) >= SCREEN_FROM


def _peak(tile: npt.NDArray[np.uint8]) -> float | None:
    """How far the strongest peak of a tile's spectrum stands out; None where the tile is flat."""
    grey = cv2.cvtColor(np.ascontiguousarray(tile), cv2.COLOR_BGR2GRAY).astype(np.float32)
    mean, spread = cv2.meanStdDev(grey)
    if float(spread[0, 0]) < _FLAT:
        return None
    # Logarithms make the grid as strong in shadow as in light.
    light = np.log1p(grey)
    spectrum = cv2.dft((light - np.float32(np.log1p(mean[0, 0]))) * _WINDOW, flags=cv2.DFT_COMPLEX_OUTPUT)
    half = spectrum[:, : _SIDE // 2 + 1]
    power = np.log(half[..., 0] ** 2 + half[..., 1] ** 2 + np.float32(1e-9))
    smooth = cv2.GaussianBlur(power, (0, 0), 1.0)
    over = np.where(_COUNTED, smooth - cv2.blur(power, (25, 25)), np.float32(-99))
    best = -99.0
    for _ in range(_TRIES):
        row, column = divmod(int(over.argmax()), over.shape[1])
        ring = smooth[(row + _RING_ROWS) % _SIDE, np.clip(column + _RING_COLUMNS, 0, smooth.shape[1] - 1)]
        best = max(best, float(smooth[row, column] - np.quantile(ring, 0.98)))
        over[max(row - 4, 0) : row + 5, max(column - 4, 0) : column + 5] = -99
    return best
