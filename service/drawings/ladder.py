"""Travel as an upright ladder: closed end below, open end above, a rung every ten percent.

Limits trip in the first and last few percent, so the tenth at each end is drawn five times as large as the
middle; the drawing says so in words and shows a rung for each percent there.
"""

from collections.abc import Callable

from service.drawings.svg import line, polygon, text

END_SHARE = 0.28
"""Share of the ladder's height that the first ten percent take, and the last ten."""
END_PCT = 10.0


def height_of(top: float, bottom: float) -> Callable[[float], float]:
    """Return the function from travel in percent to the height on the page; it rises with the travel."""

    def at(pct: float) -> float:
        if pct <= END_PCT:
            share = pct / END_PCT * END_SHARE
        elif pct >= 100.0 - END_PCT:
            share = 1.0 - (100.0 - pct) / END_PCT * END_SHARE
        else:
            share = END_SHARE + (pct - END_PCT) / (100.0 - 2 * END_PCT) * (1.0 - 2 * END_SHARE)
        return bottom - share * (bottom - top)

    return at


def ladder(x: float, width: float, at: Callable[[float], float]) -> str:
    """Return the two rails and the rungs, with their percents at the left and the ends in words."""
    rails = line(x, at(0), x, at(100), "heavy") + line(x + width, at(0), x + width, at(100), "heavy")
    rungs = "".join(
        line(x, at(pct), x + width, at(pct), "thin")
        + text(x - 8, at(pct) + 4, f"{pct} %", "soft small", "end")
        for pct in range(0, 101, 10)
    )
    single = "".join(
        line(x + width * 0.3, at(pct), x + width * 0.7, at(pct)) for pct in (*range(1, 10), *range(91, 100))
    )
    ends = text(x + width / 2, at(0) + 26, "closed end", "bold", "middle") + text(
        x + width / 2, at(100) - 16, "open end", "bold", "middle"
    )
    return rails + rungs + single + ends


def wedge(x: float, at: Callable[[float], float], pct: float, plus_minus: float, right: float) -> str:
    """Return the present travel: a wedge whose height is its uncertainty, and a line across the drawing."""
    low, high = max(0.0, pct - plus_minus), min(100.0, pct + plus_minus)
    upper, lower = min(at(high), at(pct) - 4), max(at(low), at(pct) + 4)
    doubt = f" ± {plus_minus:g}" if plus_minus else ""
    return (
        polygon([(x, upper), (x, lower), (x + 18, at(pct))], "wedge")
        + line(x + 18, at(pct), right, at(pct), "here")
        + text(right, at(pct) - 6, f"now at {pct:g}{doubt} %", "here-words small", "end")
    )
