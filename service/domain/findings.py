"""Claim, reading and expected of one contact brought together: the verdict, its reasons, and what the photo alone says.

The verdict is total over claim (closed, open, none) x reading (closed, open, between, none, impossible) x expected
(closed, open, either); the first that fits counts, in the order of `VERDICTS`. Probabilities of witnesses that are not
independent are never multiplied: `bar_position_as_shown` is the calibrated probability of the reading alone.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal, get_args

Claim = Literal["closed", "open", "none"]
ReadState = Literal["closed", "open", "between", "none", "impossible"]
ExpectedState = Literal["closed", "open", "either"]
Verdict = Literal[
    "impossible",
    "disputed",
    "part-way",
    "unshown",
    "not-judged",
    "off-chart",
    "agreed",
    "claimed",
    "seen",
]
VERDICTS: tuple[Verdict, ...] = get_args(Verdict)
CLAIMS: tuple[Claim, ...] = get_args(Claim)
READ_STATES: tuple[ReadState, ...] = get_args(ReadState)
EXPECTED_STATES: tuple[ExpectedState, ...] = get_args(ExpectedState)

CLEAR = ("closed", "open")

Test = Callable[[str, str, str], bool]


def _given(claim: str, reading: str) -> tuple[str, ...]:
    return tuple(state for state in (claim, reading) if state in CLEAR)


# Numbered as in the table of verdicts; the first that fits counts.
RULES: tuple[tuple[Verdict, Test], ...] = (
    ("impossible", lambda _claim, reading, _want: reading == "impossible"),  # (1)
    (
        "disputed",
        lambda claim, reading, _want: claim in CLEAR and reading not in ("none", claim),
    ),  # (2)
    ("part-way", lambda _claim, reading, _want: reading == "between"),  # (3)
    ("unshown", lambda claim, reading, _want: not _given(claim, reading)),  # (4)
    ("not-judged", lambda _claim, _reading, want: want == "either"),  # (5)
    ("off-chart", lambda claim, reading, want: any(state != want for state in _given(claim, reading))),  # (6)
    ("agreed", lambda claim, reading, _want: claim in CLEAR and reading in CLEAR),  # (7)
    ("claimed", lambda claim, _reading, _want: claim in CLEAR),  # (8)
    ("seen", lambda _claim, reading, _want: reading in CLEAR),  # (8)
)


@dataclass(frozen=True, slots=True)
class Finding:
    """What is known of one contact at one checkpoint, with the reasons in sentences.

    `bar_position_as_shown` is the calibrated probability, 0 to 1, that the bar lies as the reading says; None where
    nothing clear was read. `changed_after_reading` marks a claim that changed after the reading was known.
    """

    label: str
    claim: Claim
    reading: ReadState
    expected: ExpectedState
    verdict: Verdict
    reasons: tuple[str, ...]
    bar_position_as_shown: float | None = None
    denied: Literal["closed", "open"] | None = None
    changed_after_reading: bool = False

    @property
    def satisfies(self) -> bool:
        """Whether the finding satisfies the evidence condition of a hold point: only `agreed` does."""
        return self.verdict == "agreed" and self.denied is None


def verdict(claim: Claim, reading: ReadState, expected: ExpectedState) -> Verdict:
    """Return the first verdict that fits.

    Examples
    --------
    >>> verdict("closed", "closed", "closed"), verdict("closed", "between", "closed"), verdict("none", "none", "open")
    ('agreed', 'disputed', 'unshown')

    """
    return next(word for word, fits in RULES if fits(claim, reading, expected))


def make_finding(  # noqa: PLR0913 - three witnesses and what is known beside them, by name
    label: str,
    claim: Claim,
    reading: ReadState,
    expected: ExpectedState,
    *,
    p: float | None = None,
    denied: Literal["closed", "open"] | None = None,
    changed_after_reading: bool = False,
) -> Finding:
    """Bring together what is known of one contact.

    Parameters
    ----------
    label : str
        The contact as people say it.
    claim, reading, expected : str
        The three witnesses; a claim counts here only after its read-back was confirmed.
    p : float, optional
        Calibrated probability of the reading alone, 0 to 1.
    denied : "closed" or "open", optional
        What was said not to be ("contact nine not closed"). It withdraws the claim, never makes an `agreed`, and a
        clear reading that equals it is `disputed`.
    changed_after_reading : bool
        Whether the claim changed after the reading was known.

    """
    if denied is not None:
        claim = "none"
    word = verdict(claim, reading, expected)
    if denied is not None and reading == denied:
        word = "disputed"
    reasons = _reasons(word, claim, reading, expected, denied)
    if changed_after_reading:
        reasons = (*reasons, "The claim changed after the reading was known.")
    shown = p if reading in CLEAR else None
    return Finding(label, claim, reading, expected, word, reasons, shown, denied, changed_after_reading)


def _reasons(word: Verdict, claim: str, reading: str, expected: str, denied: str | None) -> tuple[str, ...]:
    said = f"It was said not to be {denied}." if denied else f"It was said to be {claim}."
    seen = f"The photo shows it {reading}."
    sentences: dict[Verdict, tuple[str, ...]] = {
        "impossible": ("The photo shows a rotor as it cannot be built.",),
        "disputed": (said, seen),
        "part-way": ("The photo shows the rotor between its two positions.",),
        "unshown": ("Nothing usable was said or seen.",),
        "not-judged": ("The chart leaves this contact open at this travel.",),
        "off-chart": (said if claim in CLEAR else seen, f"The chart wants {expected} here."),
        "agreed": ("What was said, what the photo shows and what the chart wants are the same.",),
        "claimed": (said, "No photo shows it."),
        "seen": (seen, said if denied else "Nobody said it."),
    }
    return sentences[word]
