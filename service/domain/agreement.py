"""Whether the second look is worth anything: kappa, Wilson's interval, and what two checkers miss together.

Kappa corrects the share of agreement for the agreement that chance would give (Cohen 1960); it does not exist
where both people used one and the same answer throughout, and then none is given. Wilson's score interval
(1927) holds its promise for small numbers. Two checkers are not independent witnesses: what both miss depends
on how much the second relies on the first (NUREG/CR-1278, five levels of dependence).
"""

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from service.domain.figures import within
from service.domain.refusals import BadDefinition

Z_95 = 1.959963984540054
Weighting = Literal["none", "linear", "quadratic"]
Dependence = Literal["zero", "low", "moderate", "high", "complete"]


@dataclass(frozen=True, slots=True)
class Kappa:
    """Cohen's kappa, None where it does not exist; the share of agreement; and the number of pairs."""

    kappa: float | None
    agreed_share: float
    pairs: int

    @property
    def band(self) -> str:
        """The word of Landis and Koch (1977) for the figure; a heuristic, shown beside the number."""
        if self.kappa is None:
            return "does not exist"
        if self.kappa < 0:
            return "poor"
        limits = ((0.20, "slight"), (0.40, "fair"), (0.60, "moderate"), (0.80, "substantial"))
        return next((word for limit, word in limits if self.kappa <= limit), "almost perfect")


def kappa_of(first: Sequence[str], second: Sequence[str], weighting: Weighting = "none") -> Kappa:
    """Return the agreement of two people who judged the same things.

    Parameters
    ----------
    first, second : sequence of str
        The two people's answers, in the same order. For a weighted kappa the answers are taken in sorted
        order.
    weighting : "none", "linear" or "quadratic"
        How much a near miss counts.

    Raises
    ------
    BadDefinition
        The two people did not judge the same number of things, or none.

    """
    if not first or len(first) != len(second):
        raise BadDefinition("Both people judge the same things, and at least one.", field="judgements")
    answers = sorted(set(first) | set(second))
    table = [[0] * len(answers) for _ in answers]
    index = {answer: number for number, answer in enumerate(answers)}
    for one, other in zip(first, second, strict=True):
        table[index[one]][index[other]] += 1
    return kappa_of_table(table, weighting)


def kappa_of_table(table: Sequence[Sequence[int]], weighting: Weighting = "none") -> Kappa:
    """Return the agreement of two people from the table of their answers, rows the first, columns the second.

    Examples
    --------
    >>> round(kappa_of_table([[20, 5], [10, 15]]).kappa, 4)
    0.4

    Raises
    ------
    BadDefinition
        The table is not square, is empty, or holds a negative count.

    """
    size = len(table)
    if not size or any(len(row) != size for row in table) or any(count < 0 for row in table for count in row):
        raise BadDefinition("A table of agreement is square, its counts zero or more.", field="table")
    total = sum(map(sum, table))
    if total == 0:
        raise BadDefinition("Nobody judged anything: there is no data.", field="table")
    rows = [sum(row) for row in table]
    columns = [sum(row[number] for row in table) for number in range(size)]
    cells = [(i, j) for i in range(size) for j in range(size)]
    seen = math.fsum(_penalty(i, j, size, weighting) * table[i][j] for i, j in cells)
    by_chance = math.fsum(_penalty(i, j, size, weighting) * rows[i] * columns[j] for i, j in cells) / total
    agreed = sum(table[i][i] for i in range(size)) / total
    return Kappa(None if by_chance == 0 else 1.0 - seen / by_chance, agreed, total)


def kappa_interval(table: Sequence[Sequence[int]], z: float = Z_95) -> tuple[float, float] | None:
    """Return the interval of kappa by its large-sample standard error (Fleiss, Cohen and Everitt 1969), at most 1.

    None where kappa does not exist, and where all agree: that error is then zero, and no interval would be
    narrower than the truth.
    """
    found = kappa_of_table(table)
    if found.kappa is None or found.agreed_share == 1.0:
        return None
    error = _kappa_error(table, found.kappa)
    return max(-1.0, found.kappa - z * error), min(1.0, found.kappa + z * error)


def _kappa_error(table: Sequence[Sequence[int]], kappa: float) -> float:
    total = sum(map(sum, table))
    size = range(len(table))
    share = [[count / total for count in row] for row in table]
    rows = [sum(row) for row in share]
    columns = [sum(row[number] for row in share) for number in size]
    chance = math.fsum(rows[i] * columns[i] for i in size)
    agreed = math.fsum(share[i][i] * (1.0 - (rows[i] + columns[i]) * (1.0 - kappa)) ** 2 for i in size)
    apart = math.fsum(share[i][j] * (columns[i] + rows[j]) ** 2 for i in size for j in size if i != j)
    square = agreed + (1.0 - kappa) ** 2 * apart - (kappa - chance * (1.0 - kappa)) ** 2
    return math.sqrt(max(0.0, square) / total) / (1.0 - chance)


def wilson_interval(agreed: int, judged: int, z: float = Z_95) -> tuple[float, float] | None:
    """Return Wilson's score interval of a share, or None where nothing was judged: there is no data.

    Raises
    ------
    BadDefinition
        More were agreed than judged, or a count is negative.

    """
    if not 0 <= agreed <= judged:
        raise BadDefinition(f"{agreed} of {judged} is no share.", field="agreed")
    if judged == 0:
        return None
    share, square = agreed / judged, z * z
    middle = share + square / (2.0 * judged)
    half = z * math.sqrt((share * (1.0 - share) + square / (4.0 * judged)) / judged)
    scale = 1.0 + square / judged
    low = 0.0 if agreed == 0 else max(0.0, (middle - half) / scale)
    high = 1.0 if agreed == judged else min(1.0, (middle + half) / scale)
    return low, high


def most_with_none_seen(trials: int, confidence: float = 0.95) -> float:
    """Return the largest share of misses that fits none seen in so many trials: 1 - (1 - c)^(1/n)."""
    if trials < 1:
        raise BadDefinition("There is no trial.", field="trials")
    within(confidence, 0.0, 0.999999, "confidence", "The confidence")
    return 1.0 - math.pow(1.0 - confidence, 1.0 / trials)


def missed_by_second(missed_alone: float, dependence: Dependence) -> float:
    """Return how likely the second checker misses what the first has missed.

    NUREG/CR-1278 Table 20-17, formulas from memory.

    Zero N; low (1 + 19 N) / 20; moderate (1 + 6 N) / 7; high (1 + N) / 2; complete 1.
    """
    within(missed_alone, 0.0, 1.0, "missed_alone", "The share that the second checker misses alone")
    steps = {"low": 19.0, "moderate": 6.0, "high": 1.0}
    if dependence in steps:
        weight = steps[dependence]
        return (1.0 + weight * missed_alone) / (weight + 1.0)
    return missed_alone if dependence == "zero" else 1.0


def missed_by_both(first: float, second: float, dependence: Dependence) -> float:
    """Return how likely both checkers miss; multiplying two figures as if independent is the case "zero"."""
    within(first, 0.0, 1.0, "first", "The share that the first checker misses")
    return first * missed_by_second(second, dependence)


def checker_of_maintenance(missed_alone: float) -> float:
    """Return the share that a checker of maintenance work misses: half (NUREG/CR-1278 Table 20-22)."""
    return within(missed_alone, 0.0, 1.0, "missed_alone", "The share that a checker misses") / 2.0


def worth_of_second_look(pairs: Sequence[tuple[str, str]]) -> tuple[Kappa, tuple[float, float] | None]:
    """Return kappa of the pairs (first, second), and Wilson's interval of the share that agrees."""
    kappa = kappa_of([one for one, _ in pairs], [other for _, other in pairs])
    agreed = Counter(one == other for one, other in pairs)[True]
    return kappa, wilson_interval(agreed, len(pairs))


def _penalty(i: int, j: int, size: int, weighting: Weighting) -> float:
    if weighting == "none" or size == 1:
        return float(i != j)
    apart = abs(i - j) / (size - 1)
    return apart if weighting == "linear" else apart**2
