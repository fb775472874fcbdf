"""Tables, bounds and the reliability diagram of the reader's bench."""

from collections import Counter
from itertools import pairwise

import cv2
import numpy as np
import scipy.stats

STATES = ("along", "across", "between", "unreadable")
_EDGES = np.array([0.0, 0.02, 0.1, 0.25, 0.5, 0.75, 0.9, 0.98, 1.0])
_SIDE, _MARGIN = 560, 80


def upper_bound(events: int, trials: int) -> float:
    """One-sided 95 % upper bound of a share, exact (Clopper and Pearson 1934); 1 where nothing was tried."""
    if not trials:
        return 1.0
    test = scipy.stats.binomtest(events, trials, alternative="less")
    return float(test.proportion_ci(0.95, method="exact").high)


def wilson(events: int, trials: int) -> tuple[float, float]:
    """Two-sided 95 % interval of a share (Wilson 1927, without correction); 0 to 1 where nothing was tried."""
    if not trials:
        return 0.0, 1.0
    interval = scipy.stats.binomtest(events, trials).proportion_ci(0.95, method="wilson")
    return float(interval.low), float(interval.high)


def confusion_table(counts: Counter) -> str:
    """Rows: the true state of a bar; columns: what it was called."""
    rows = sorted({true for true, _ in counts})
    head = f"{'true state, rows; read as, columns':36s}" + "".join(f"{state:>12s}" for state in STATES)
    lines = [f"{true:36s}" + "".join(f"{counts[true, said]:12d}" for said in STATES) for true in rows]
    return "\n".join([head, *lines])


def reliability_picture(chances: list[tuple[float, bool]]) -> np.ndarray:
    """Draw how often a bar lay along where its probability said so: points with Wilson bars, counts beside them."""
    ink, rule, paper = (34, 29, 28), (170, 170, 170), 255
    sheet = np.full((_SIDE + 2 * _MARGIN, _SIDE + 2 * _MARGIN, 3), paper, np.uint8)

    def at(said: float, true: float) -> tuple[int, int]:
        return round(_MARGIN + said * _SIDE), round(_MARGIN + (1 - true) * _SIDE)

    def write(text: str, x: int, y: int, size: float = 0.45) -> None:
        cv2.putText(sheet, text, (x, y), cv2.FONT_HERSHEY_SIMPLEX, size, ink, 1, cv2.LINE_AA)

    for tick in (0.0, 0.25, 0.5, 0.75, 1.0):
        cv2.line(sheet, at(tick, 0), at(tick, 1), rule, 1)
        cv2.line(sheet, at(0, tick), at(1, tick), rule, 1)
        write(f"{tick:g}", at(tick, 0)[0] - 12, at(tick, 0)[1] + 24)
        write(f"{tick:g}", _MARGIN - 46, at(0, tick)[1] + 5)
    cv2.line(sheet, at(0, 0), at(1, 1), rule, 2, cv2.LINE_AA)
    said = np.array([p for p, _ in chances])
    true = np.array([along for _, along in chances], bool)
    for low, high in pairwise(_EDGES):
        here = (said >= low) & ((said < high) | ((high == 1.0) & (said == 1.0)))
        if not here.any():
            continue
        x, share = float(said[here].mean()), float(true[here].mean())
        bottom, top = wilson(int(true[here].sum()), int(here.sum()))
        cv2.line(sheet, at(x, bottom), at(x, top), ink, 1, cv2.LINE_AA)
        cv2.circle(sheet, at(x, share), 5, ink, -1, cv2.LINE_AA)
        side = 10 if x < 0.8 else -44
        write(str(int(here.sum())), at(x, share)[0] + side, at(x, share)[1] - 8)
    write("probability of along that was given", _MARGIN + 140, _SIDE + _MARGIN + 52, 0.55)
    write("share that lay along (bars: Wilson 95 %), beside each point the number of bars", 20, 40, 0.5)
    return sheet
