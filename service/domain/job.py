"""The whole job side in one place: what the layers above call. All functions are pure; times are values handed in.

Opening
    `expansion.pin_job(job=, site=, valve=, chart=, procedure=, people=, rules=, pins=) -> PinnedJob` refuses what no
    procedure exists for and spreads the procedure over the valve. `open_job(pinned, person, people) -> NewEntry` is the
    first entry.
State
    `replay(pinned, entries) -> JobState` and, one by one, `apply(state, entry) -> JobState`. Both take any entries,
    unknown kinds included, and never raise on one that is well-formed; what an entry did not do is in
    `state.effects[seq]`. An act that is not allowed has no effect, whoever wrote it into the journal.
Deciding
    `decide(state, incoming, at=RFC 3339 UTC) -> tuple[NewEntry, ...]` for every value of `incoming` (Clip, Photo,
    Typed,
    HearingResult, ReadingResult, Judgement, Opinion, Release, Stop, Resume, Break, Handover, GiveUpGap,
    DefinitionChange, Note, RefusedRelease), or raises a Refusal. The entries MUST be appended
    together, in order, in one transaction.
    An item that came before with the same content gives no entry; with other content one `item_conflicted`, to be
    answered 409. Items are never refused for being late or out of order.
    `entry_of_item(item) -> NewEntry` is what an item becomes.
Looking
    `state.open_steps()`, `state.current`, `state.condition("step/need")`, `state.attempts`, `state.holds`,
    `state.troubles`, `state.devices[d].waiting` (pending), `state.claims[item]` (pending until its read-back is
    confirmed), `findings(state, step) -> tuple[Finding, ...]`, `why_not_released(state, Release) -> Refusal | None`,
    `waiting_read_backs(state, device) -> tuple[ClaimRecord, ...]`.
Sight
    `sight.may_see(person, state, served) -> frozenset[str]` of "what:step" (photo, travel, claim, reading, finding,
    expected, judgement); `sight.blindness(state, step, person, served) -> Blindness`; a serving is
    `sight.Served(person, what, step, attempt, seq)`.
"""

from service.domain.claims import waiting_read_backs
from service.domain.decisions import decide, entry_of_item, open_job
from service.domain.evidence import findings
from service.domain.expansion import pin_job
from service.domain.gates import lacking, why_not_released
from service.domain.sight import Served, blindness, may_see
from service.domain.transitions import apply, replay

__all__ = [
    "Served",
    "apply",
    "blindness",
    "decide",
    "entry_of_item",
    "findings",
    "lacking",
    "may_see",
    "open_job",
    "pin_job",
    "replay",
    "waiting_read_backs",
    "why_not_released",
]
