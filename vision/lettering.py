"""Lines and words on a picture: double lines that show on light and dark, notes that find a free place."""

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
import numpy.typing as npt
from PIL import Image, ImageDraw, ImageFont

Floats = npt.NDArray[np.float64]
Pixels = npt.NDArray[np.uint8]
Colour = tuple[int, int, int]  # red, green, blue

INK: Colour = (28, 29, 34)
CARD: Colour = (255, 255, 255)
_SUBPIXEL = 4  # binary places of a pixel in which OpenCV draws


@dataclass(frozen=True)
class Box:
    """An upright rectangle, pixels."""

    left: float
    top: float
    right: float
    bottom: float

    def overlap(self, other: "Box") -> float:
        """Area shared with another box."""
        wide = min(self.right, other.right) - max(self.left, other.left)
        high = min(self.bottom, other.bottom) - max(self.top, other.top)
        return max(wide, 0.0) * max(high, 0.0)


class Sheet:
    """A picture to draw on. Lines go to the pixels at once, words at the end, above all lines."""

    def __init__(self, bgr: Pixels) -> None:
        self._bgr = bgr.copy()
        self._notes: list[tuple[Box, Sequence[str], Colour]] = []
        self._strip: Sequence[str] = ()
        self._size = max(15, round(max(bgr.shape[:2]) / 78))
        self._font = ImageFont.load_default(self._size)

    def polygon(self, corners: Floats, colour: Colour, width: int) -> None:
        """Draw a closed line through the corners."""
        fixed = np.rint(corners * 2**_SUBPIXEL).astype(np.int32).reshape(-1, 1, 2)
        cv2.polylines(
            self._bgr,
            [fixed],
            isClosed=True,
            color=colour[::-1],
            thickness=width,
            lineType=cv2.LINE_AA,
            shift=_SUBPIXEL,
        )

    def line(self, start: Floats, end: Floats, colour: Colour, width: int) -> None:
        """Draw one straight line."""
        a, b = (tuple(int(v) for v in np.rint(p * 2**_SUBPIXEL)) for p in (start, end))
        cv2.line(self._bgr, a, b, colour[::-1], width, cv2.LINE_AA, _SUBPIXEL)

    def dashes(self, points: Floats, light: Colour, dark: Colour) -> None:
        """Draw every other stretch between successive points, dark inside light."""
        for colour, width in ((light, 3), (dark, 1)):
            for i in range(0, len(points) - 1, 2):
                self.line(points[i], points[i + 1], colour, width)

    def note(self, lines: Sequence[str], beside: Box, taken: Sequence[Box], rule: Colour) -> Box:
        """Place a note beside a box where it covers least of what is taken and stays in the picture."""
        width, height = self._measured(lines)
        middle_x, middle_y = (beside.left + beside.right) / 2, (beside.top + beside.bottom) / 2
        places = [
            (beside.right + 6, middle_y - height / 2),
            (beside.left - 6 - width, middle_y - height / 2),
            (middle_x - width / 2, beside.top - 6 - height),
            (middle_x - width / 2, beside.bottom + 6),
            (beside.right + 6, beside.top - height),
            (beside.right + 6, beside.bottom),
            (beside.left - 6 - width, beside.top - height),
            (beside.left - 6 - width, beside.bottom),
        ]
        boxes = [self._kept_inside(Box(x, y, x + width, y + height)) for x, y in places]
        best = min(boxes, key=lambda box: sum(box.overlap(other) for other in taken))
        self._notes.append((best, lines, rule))
        return best

    def strip(self, lines: Sequence[str]) -> None:
        """Put words on a band above the picture."""
        self._strip = lines

    def picture(self) -> Pixels:
        """Return the finished picture, blue-green-red."""
        line = round(self._size * 1.3)
        band = len(self._strip) * line + self._size if self._strip else 0
        height, width = self._bgr.shape[:2]
        sheet = Image.new("RGB", (width, height + band), INK)
        sheet.paste(Image.fromarray(np.ascontiguousarray(self._bgr[:, :, ::-1])), (0, band))
        draw = ImageDraw.Draw(sheet)
        for i, text in enumerate(self._strip):
            draw.text((self._size, self._size // 2 + i * line), text, fill=(242, 239, 230), font=self._font)
        for box, lines, rule in self._notes:
            self._write(draw, box, lines, rule, band)
        return np.ascontiguousarray(np.asarray(sheet)[:, :, ::-1])

    def _write(
        self, draw: ImageDraw.ImageDraw, box: Box, lines: Sequence[str], rule: Colour, band: int
    ) -> None:
        left, top = round(box.left), round(box.top) + band
        right, bottom = round(box.right), round(box.bottom) + band
        draw.rectangle((left, top, right, bottom), fill=CARD, outline=INK)
        draw.rectangle((left, top, left + 4, bottom), fill=rule)
        for i, text in enumerate(lines):
            draw.text((left + 10, top + 5 + i * round(self._size * 1.25)), text, fill=INK, font=self._font)

    def _measured(self, lines: Sequence[str]) -> tuple[float, float]:
        width = max(self._font.getlength(text) for text in lines)
        return width + 20, len(lines) * round(self._size * 1.25) + 12

    def _kept_inside(self, box: Box) -> Box:
        height, width = self._bgr.shape[:2]
        x = min(max(box.left, 4.0), max(4.0, width - 4 - (box.right - box.left)))
        y = min(max(box.top, 4.0), max(4.0, height - 4 - (box.bottom - box.top)))
        return Box(x, y, x + box.right - box.left, y + box.bottom - box.top)
