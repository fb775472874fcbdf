"""Paints flat-topped things at their true heights through a camera, lowest first: the renderer's brush.

Every outline is sampled in plan millimetres and projected point by point, lens included, so perspective,
parallax between decks and distortion are those of the camera model, not an imitation. Colours are linear
light, red-green-blue, 0 to 1 and above.
"""

from dataclasses import dataclass

import cv2
import numpy as np
import numpy.typing as npt

from vision.camera import Camera
from vision.coverage import coverage

Floats = npt.NDArray[np.float64]
Reals = npt.NDArray[np.float32]
Mask = npt.NDArray[np.float32]
Colour = Floats


@dataclass(frozen=True)
class Light:
    """Where the light comes from: a far lamp, given by the shift of a shadow for each millimetre of height.

    `soft_mm` is the softness of a shadow for each millimetre of fall, `ambient` the share of light that comes
    from everywhere.
    """

    slope: Floats
    soft: float
    ambient: float


class Canvas:
    """A picture being painted, with the number of what was painted last at each pixel."""

    def __init__(
        self, camera: Camera, width: int, height: int, light: Light, chance: np.random.Generator
    ) -> None:
        self.camera, self.light, self._chance = camera, light, chance
        self.linear: Reals = np.zeros((height, width, 3), np.float32)
        self.painted: npt.NDArray[np.int16] = np.zeros((height, width), np.int16)
        self._grain = _grain(chance, height, width)

    def project(self, flat: Floats, z_mm: float) -> Floats:
        """Pixels of plan points (n, 2) at a height."""
        return self.camera.project(np.column_stack([flat, np.full(len(flat), z_mm)]))

    def mask(self, *outlines: Floats) -> tuple[tuple[slice, slice], Mask] | None:
        """Share (0 to 1) of each pixel inside outlines in pixels, with their window; None where out of view."""
        height, width = self.painted.shape
        points = np.concatenate(outlines)
        low = np.floor(points.min(axis=0)).astype(int) - 1
        high = np.ceil(points.max(axis=0)).astype(int) + 2
        left, top = max(low[0], 0), max(low[1], 0)
        right, bottom = min(high[0], width), min(high[1], height)
        if left >= right or top >= bottom or high[0] - low[0] > 40 * width:
            return None
        here = [outline - [left, top] for outline in outlines]
        inside = coverage(here, right - left, bottom - top).astype(np.float32)
        return (slice(top, bottom), slice(left, right)), inside

    def fill(
        self, *outlines_px: Floats, colour: Colour, number: int, grain: float = 0.05, cover: float = 1.0
    ) -> None:
        """Paint outlines given in pixels, side by side; `grain` is the strength of the surface's unevenness."""
        found = self.mask(*outlines_px)
        if found is None:
            return
        window, inside = found
        share = (inside * np.float32(cover))[:, :, None]
        texture = 1 + np.float32(grain) * self._grain[window][:, :, None]
        self.linear[window] = self.linear[window] * (1 - share) + share * texture * colour.astype(np.float32)
        if cover > 0.5:
            self.painted[window][inside > 0.5] = number

    def face(self, flat: Floats, z_mm: float, colour: Colour, *, number: int, grain: float = 0.05) -> None:
        """Paint a level face."""
        self.fill(self.project(flat, z_mm), colour=colour, number=number, grain=grain)

    def block(  # noqa: PLR0913 - a block is an outline, two heights, a colour, a number and a surface
        self, flat: Floats, low_mm: float, high_mm: float, colour: Colour, *, number: int, grain: float = 0.05
    ) -> None:
        """Paint a convex upright block: its shadow on what lies below, its sides, then its top."""
        self.shadow(flat, low_mm, high_mm)
        self._sides(flat, low_mm, high_mm, colour, number)
        self.face(flat, high_mm, colour, number=number, grain=grain)

    def _sides(self, flat: Floats, low_mm: float, high_mm: float, colour: Colour, number: int) -> None:
        bottom, top = self.project(flat, low_mm), self.project(flat, high_mm)
        middle = flat.mean(axis=0)
        lamp = -self.light.slope / (np.linalg.norm(self.light.slope) + 1e-9)
        # The whole of the block first, or what lies below would show in the seams between its faces.
        whole = cv2.convexHull(np.concatenate([bottom, top]).astype(np.float32)).reshape(-1, 2)
        self.fill(whole.astype(np.float64), colour=colour * self.light.ambient, number=number, grain=0.03)
        for i in range(len(flat)):
            j = (i + 1) % len(flat)
            edge = flat[j] - flat[i]
            outward = np.array([edge[1], -edge[0]])
            outward *= np.sign(outward @ ((flat[i] + flat[j]) / 2 - middle)) / (
                np.linalg.norm(outward) + 1e-9
            )
            lit = self.light.ambient * 0.7 + 0.6 * max(0.0, float(outward @ lamp))
            quad = np.array([bottom[i], bottom[j], top[j], top[i]])
            self.fill(quad, colour=colour * lit, number=number, grain=0.03)

    def shadow(self, flat: Floats, low_mm: float, high_mm: float, onto_mm: float | None = None) -> None:
        """Darken what is already painted where a block keeps the lamp away."""
        ground = low_mm if onto_mm is None else onto_mm
        fall = high_mm - ground
        near = flat + self.light.slope * max(low_mm - ground, 0.0)
        far = flat + self.light.slope * fall
        hull = (
            cv2.convexHull(np.concatenate([near, far]).astype(np.float32)).reshape(-1, 2).astype(np.float64)
        )
        found = self.mask(_closed(self.project(_dense(hull), ground)))
        if found is None:
            return
        window, inside = found
        scale = self.camera.px_per_mm(np.array([*flat.mean(axis=0), ground]))
        sigma = max(0.4, self.light.soft * fall * scale * 0.5)
        pad = int(3 * sigma) + 1
        wide = cv2.copyMakeBorder(inside, pad, pad, pad, pad, cv2.BORDER_CONSTANT)
        soft = cv2.GaussianBlur(wide, (0, 0), sigma)[pad:-pad, pad:-pad]
        self.linear[window] *= 1 - (1 - np.float32(self.light.ambient)) * soft[:, :, None]

    def strand(self, points: Floats, radius_mm: float, colour: Colour, *, number: int) -> None:
        """Paint a wire along points (n, 3): shaded across, with its shadow on the plate."""
        at = self.camera.project(points)
        scale = np.array([self.camera.px_per_mm(p) for p in points[:: max(1, len(points) // 8)]]).mean()
        for share, tone in ((1.0, 0.45), (0.75, 0.8), (0.45, 1.1), (0.18, 1.5)):
            self.fill(_ribbon(at, radius_mm * share * scale), colour=colour * tone, number=number, grain=0.02)


def _grain(chance: np.random.Generator, height: int, width: int) -> Reals:
    """Unevenness of a surface: noise at three sizes, about one in standard deviation."""
    total: Reals = np.zeros((height, width), np.float32)
    for size, share in ((3, 0.5), (12, 0.6), (50, 0.6)):
        small = chance.normal(size=(height // size + 2, width // size + 2)).astype(np.float32)
        total += np.float32(share) * cv2.resize(small, (width, height), interpolation=cv2.INTER_CUBIC)
    return total


def _dense(outline: Floats, parts: int = 6) -> Floats:
    """Put more points on each edge, so that a bent edge stays bent."""
    ahead = np.roll(outline, -1, axis=0)
    steps = np.arange(parts) / parts
    return (outline[:, None] + (ahead - outline)[:, None] * steps[None, :, None]).reshape(-1, 2)


def _closed(outline: Floats) -> Floats:
    return np.clip(outline, -1e5, 1e5)


def _ribbon(at: Floats, half_px: float) -> Floats:
    ahead = np.gradient(at, axis=0)
    normal = np.column_stack([-ahead[:, 1], ahead[:, 0]])
    normal /= np.linalg.norm(normal, axis=1, keepdims=True) + 1e-9
    return np.concatenate([at + half_px * normal, (at - half_px * normal)[::-1]])


def circle(
    centre: Floats | tuple[float, float], radius: float, points: int = 64, phase: float = 0.0
) -> Floats:
    """Outline of a circle (or, with few points, of a polygon)."""
    turn = phase + np.arange(points) * 2 * np.pi / points
    return np.asarray(centre) + radius * np.column_stack([np.cos(turn), np.sin(turn)])


def box(centre: Floats | tuple[float, float], length: float, width: float, angle_deg: float) -> Floats:
    """Outline of a rectangle, `length` along `angle_deg`, with points along its edges."""
    turn = np.radians(angle_deg)
    along, across = np.array([np.cos(turn), np.sin(turn)]), np.array([-np.sin(turn), np.cos(turn)])
    corners = np.array([(-1, -1), (1, -1), (1, 1), (-1, 1)]) / 2
    return _dense(np.asarray(centre) + corners[:, :1] * length * along + corners[:, 1:] * width * across, 4)
