"""What pairs of looks say: how often two disagreed, how surely, and when there are too few to tell.

Contacts of one rotor move together, so the contacts of one rotor in one look count once: as disagreed where one of
them was. Otherwise one wrong rotor would count four times, and one right one make the figures look surer than they
are. That nobody disagreed shows neither that the second look is careful nor that it is not needed.
"""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from service.domain.agreement import Kappa, kappa_interval, kappa_of_table, wilson_interval
from service.domain.refusals import BadDefinition

ENOUGH_LOOKS = 30
ENOUGH_OF_EACH = 5
"""Fewest looks, and of each answer by each person, for a kappa with a word; common practice, no source."""
ANSWERS = ("closed", "open")


@dataclass(frozen=True, slots=True)
class Look:
    """What two said of one contact; `look` names what was looked at together: one rotor, at one time, by one pair."""

    contact: str
    step: str
    look: str
    first: str
    second: str


@dataclass(frozen=True, slots=True)
class Disagreed:
    """How many of so many looks disagreed, and Wilson's 95 % interval of that share; None for no look."""

    name: str
    looks: int
    disagreed: int
    interval: tuple[float, float] | None

    @property
    def enough(self) -> bool:
        """Whether there are enough looks to say more than that there are few."""
        return self.looks >= ENOUGH_LOOKS


@dataclass(frozen=True, slots=True)
class Worth:
    """What the looks say together, by step and by contact.

    `enough` tells whether kappa rests on enough looks of both answers; `interval` is its 95 % interval, None where
    all agreed or kappa does not exist.
    """

    total: Disagreed
    kappa: Kappa | None
    interval: tuple[float, float] | None
    enough: bool
    by_step: tuple[Disagreed, ...]
    by_contact: tuple[Disagreed, ...]
    sentence: str


def worth_of(looks: Iterable[Look]) -> Worth:
    """Return what pairs of looks say.

    Raises
    ------
    BadDefinition
        An answer is neither closed nor open, or one contact occurs twice in one look.

    """
    pairs = tuple(looks)
    seen: set[tuple[str, str, str]] = set()
    for number, one in enumerate(pairs):
        if one.first not in ANSWERS or one.second not in ANSWERS:
            raise BadDefinition("A look says closed or open.", field=f"looks[{number}]")
        if (one.step, one.look, one.contact) in seen:
            raise BadDefinition(
                f"Contact {one.contact} occurs twice in the look {one.look}.",
                field=f"looks[{number}].contact",
            )
        seen.add((one.step, one.look, one.contact))
    once = _once_a_look(pairs)
    table = [[sum((one.first, one.second) == (a, b) for one in once) for b in ANSWERS] for a in ANSWERS]
    kappa = kappa_of_table(table) if once else None
    total = _disagreed("all", once)
    enough = total.enough and all(
        count >= ENOUGH_OF_EACH for count in (*map(sum, table), *map(sum, zip(*table, strict=True)))
    )
    interval = kappa_interval(table) if once else None
    return Worth(
        total, kappa, interval, enough, _grouped(once, lambda one: one.step),
        _grouped(pairs, lambda one: one.contact), _sentence(total, kappa, interval, enough=enough),
    )  # fmt: skip


def _once_a_look(pairs: Sequence[Look]) -> tuple[Look, ...]:
    """Return one pair for each look: one that disagreed where there is such a one."""
    chosen: dict[tuple[str, str], Look] = {}
    for one in pairs:
        key = (one.step, one.look)
        if key not in chosen or (chosen[key].first == chosen[key].second and one.first != one.second):
            chosen[key] = one
    return tuple(chosen.values())


def _grouped(pairs: Sequence[Look], name: Callable[[Look], str]) -> tuple[Disagreed, ...]:
    groups: dict[str, list[Look]] = {}
    for one in pairs:
        if name(one):
            groups.setdefault(name(one), []).append(one)
    return tuple(_disagreed(key, group) for key, group in groups.items())


def _disagreed(name: str, pairs: Sequence[Look]) -> Disagreed:
    apart = sum(one.first != one.second for one in pairs)
    return Disagreed(name, len(pairs), apart, wilson_interval(apart, len(pairs)))


def _sentence(
    total: Disagreed, kappa: Kappa | None, interval: tuple[float, float] | None, *, enough: bool
) -> str:
    if total.interval is None or kappa is None:
        return "There is no pair of looks: nothing to tell."
    low, high = total.interval
    shown = (
        f"{total.disagreed} of {total.looks} looks disagreed: between {100 * low:.1f} and {100 * high:.1f} % of "
        "such looks."
    )
    none = (
        " That nobody disagreed shows neither that the second look is careful nor that it is not needed."
        if total.disagreed == 0
        else ""
    )
    if not enough:
        return f"{shown} Too few looks of both answers to tell more.{none}"
    if kappa.kappa is None:
        return f"{shown} Kappa does not exist.{none}"
    if interval is None:
        return f"{shown} Kappa {kappa.kappa:.2f}, without interval, since all agreed.{none}"
    return f"{shown} Kappa {kappa.kappa:.2f} ({interval[0]:.2f} to {interval[1]:.2f}), {kappa.band}."
