"""How much of each pixel an outline covers: exact areas, so that nothing painted is larger than it is.

Each edge is cut where it crosses from pixel to pixel. A piece inside one pixel adds its height to all pixels
right of it and the area beside it to its own; sums along the rows then give the covered areas (the signed-area
accumulation that font rasterisers use). Outlines handed over together and lying side by side leave no seam.
"""

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
Whole = npt.NDArray[np.int64]


def coverage(outlines: Sequence[Floats], width: int, height: int) -> Floats:
    """Covered share (height, width) of each pixel, 0 to 1, by outlines (n, 2) in pixels.

    Pixel (0, 0) reaches from -0.5 to 0.5. Parts out of the picture are cut off. Where outlines that run the same
    way round overlap, the share stops at 1.
    """
    first = np.concatenate(outlines) + 0.5
    second = np.concatenate([np.roll(outline, -1, axis=0) for outline in outlines]) + 0.5
    edge, share = _cuts(first, second)
    start = first[edge] + share[:, None] * (second - first)[edge]
    same = edge[:-1] == edge[1:]
    a, b = start[:-1][same], start[1:][same]
    middle, fall = (a + b) / 2, b[:, 1] - a[:, 1]
    row = np.floor(middle[:, 1]).astype(np.int64)
    kept = (row >= 0) & (row < height) & (fall != 0)
    x, row, fall = np.clip(middle[kept, 0], 0, width), row[kept], fall[kept]
    column = np.minimum(np.floor(x).astype(np.int64), width)
    within = x - column
    at = row * (width + 2) + column
    sums = np.bincount(at, fall * (1 - within), height * (width + 2))
    sums += np.bincount(at + 1, fall * within, height * (width + 2))
    covered = np.cumsum(sums.reshape(height, width + 2), axis=1)[:, :width]
    return np.asarray(np.minimum(np.abs(covered), 1.0))


def _cuts(first: Floats, second: Floats) -> tuple[Whole, Floats]:
    """Where edges begin, cross a pixel's border and end: (edge, share of the way), in order."""
    edges, shares = [np.repeat(np.arange(len(first)), 2)], [np.tile([0.0, 1.0], len(first))]
    for axis in (0, 1):
        low, high = np.sort([first[:, axis], second[:, axis]], axis=0)
        begin = np.ceil(low).astype(np.int64)
        count = np.maximum(np.floor(high).astype(np.int64) - begin + 1, 0)
        of = np.repeat(np.arange(len(first)), count)
        line = begin[of] + np.arange(len(of)) - np.repeat(np.cumsum(count) - count, count)
        run = second[of, axis] - first[of, axis]
        crossed = run != 0
        edges.append(of[crossed])
        shares.append((line[crossed] - first[of[crossed], axis]) / run[crossed])
    edge, share = np.concatenate(edges), np.concatenate(shares)
    order = np.lexsort((share, edge))
    return edge[order], share[order]
