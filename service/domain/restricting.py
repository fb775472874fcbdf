"""What a statement holds back: it acts on arrival, on weak evidence, without read-back and past any gap.

"Stop", a denial, a value outside its limits, an event of the procedure: each makes void what it contradicts, wherever
that still stands. A second look at the same item, in its turn, changes nothing here.
"""

from collections.abc import Callable, Iterable, Iterator
from dataclasses import replace
from typing import Any

from service.domain.happening import has_come
from service.domain.job_state import Fact, Hold, ItemRecord, JobState
from service.domain.needs import denies, meets, same_value, stands, touching
from service.domain.procedure import Condition, Step
from service.domain.statements import Statement, fits, subject
from service.domain.voiding import put, void_conditions, void_steps, with_effect


def restrict(state: JobState, item: ItemRecord) -> JobState:
    """Let a statement act as far as it restricts; once for each item."""
    statement = item.statement
    if statement is None or item.restricted:
        return state
    state = replace(state, items=put(state.items, item.entry.id, replace(item, restricted=True)))
    if statement.action == "stop_work":
        return stop(
            state, item.known_from or item.entry.seq, item.entry.id, item.entry.person, "said: stop", ()
        )
    if statement.intent in ("control", "contact"):
        return state
    state = _add_fact(state, statement)
    cause = (item.known_from or item.entry.seq, item.entry.id)
    state = _let_events_happen(state, statement, cause)
    return _contradict(state, statement, item, cause)


def restrict_in_turn(state: JobState, item: ItemRecord) -> JobState:
    """Let a statement hold back what earlier items of its own device met after it had arrived.

    An item can arrive before what was made before it on the same device. It restricts on arrival; here, in its
    turn, it does so again towards those earlier items alone, so that no order of arrival permits more than the
    order in which things were made.
    """
    statement = item.statement
    if statement is None or statement.intent in ("control", "contact"):
        return state
    state = _add_fact(state, statement)
    cause = (item.known_from or item.entry.seq, item.entry.id)
    state = _contradict(
        state, statement, item, cause, lambda now, name: name in _met_before(now, [name], item)
    )
    for event in state.pinned.procedure.events:
        if any(fits(pattern, statement) for pattern in event.when) and has_come(state, event):
            named = [
                f"{step.id}/{need.id}"
                for step, need in state.pinned.procedure.conditions()
                if step.id in event.voids
            ]
            state = void_conditions(state, _met_before(state, named, item), event.says, cause)
    return state


def _met_before(state: JobState, names: list[str], item: ItemRecord) -> list[str]:
    """Return the conditions that an earlier item of the same device has met."""
    own = item.entry

    def earlier(name: str) -> bool:
        by = state.items.get(state.condition(name).item or "")
        return (
            state.condition(name).status == "met"
            and by is not None
            and by.entry.device == own.device
            and (by.entry.device_seq or 0) < (own.device_seq or 0)
        )

    return [name for name in names if earlier(name)]


def stop(  # noqa: PLR0913 - a stop is told by all of these
    state: JobState, seq: int, item: str, person: str | None, reason: str, may_resume: tuple[str, ...]
) -> JobState:
    """Hold the job; each stop is resumed by itself."""
    if any(hold.item == item for hold in state.holds):
        return state
    hold = Hold(seq, item, person, reason, may_resume)
    return with_effect(replace(state, holds=(*state.holds, hold)), seq, "Work is stopped.")


def confirm_fact(state: JobState, statement: Statement) -> JobState:
    """Let a confirmed statement stand alone on its subject."""
    key = subject(statement.intent, statement.slots)
    return replace(state, facts=put(state.facts, key, (Fact(statement, confirmed=True),)))


def is_late(state: JobState, item: ItemRecord, step: str) -> bool:
    """Return whether an item for a passed step was made before its device learned that the step had closed."""
    passed = state.step(step).passed
    known = item.entry.body.get("known_seq")
    return passed is not None and (not isinstance(known, int) or known < passed)


def _add_fact(state: JobState, statement: Statement) -> JobState:
    key = subject(statement.intent, statement.slots)
    standing = state.facts.get(key, ())
    if any(fact.statement == statement for fact in standing):
        return state
    return replace(state, facts=put(state.facts, key, (*standing, Fact(statement, confirmed=False))))


def _let_events_happen(state: JobState, statement: Statement, cause: tuple[int, str]) -> JobState:
    for event in state.pinned.procedure.events:
        happens = any(fits(pattern, statement) for pattern in event.when)
        if happens and has_come(state, event):
            state = void_steps(state, event.voids, event.says, cause)
    return state


def _contradict(
    state: JobState,
    statement: Statement,
    item: ItemRecord,
    cause: tuple[int, str],
    only: Callable[[JobState, str], bool] = lambda _state, _name: True,
) -> JobState:
    """Void what a statement contradicts: in its own step, in a passed one if it is late, and wherever it stands."""
    own, late, standing = [], [], []
    asked = _is_asked_for(state, statement, item)
    for step, need, name in touching(state, statement):
        if not (_against(state, need, name, statement) and only(state, name)):
            continue
        if step.id == item.entry.step and is_late(state, item, step.id):
            late.append(name)
        elif not asked and _standing(state, step, need, name):
            standing.append(name)
        elif step.id == item.entry.step and state.is_open(step.id):
            own.append(name)
    because = f"It was said otherwise: {in_words(statement)}."
    state = void_conditions(state, own, because, cause)
    state = void_conditions(state, standing, because, cause, late=False)
    return void_conditions(state, late, because, cause, late=True)


def _is_asked_for(state: JobState, statement: Statement, item: ItemRecord) -> bool:
    """Return whether the open step that an item was made for asks for just this, so that it undoes nothing earlier."""
    step = item.entry.step
    return any(
        one.id == step and state.is_open(one.id) and meets(need, statement)
        for one, need, _ in touching(state, statement)
    )


def _against(state: JobState, need: Condition, name: str, statement: Statement) -> bool:
    if not meets(need, statement):
        return denies(need, statement)
    before = state.condition(name)
    return before.status == "met" and not same_value(need, before, statement)


def _standing(state: JobState, step: Step, need: Condition, name: str) -> bool:
    return state.condition(name).status == "met" and stands(state, step, need)


def in_words(statement: Statement) -> str:
    """Return a statement in plain words for a reason; the read-back sentence itself is the engine's.

    Examples
    --------
    >>> from service.domain.statements import statement_of
    >>> in_words(statement_of("contact", {"contacts": ["9"], "state": "open", "negated": True}))
    'contact: not 9, open'
    >>> in_words(statement_of("tester", {"result": "live", "when": "after", "negated": True}))
    'tester: not live, after'

    """
    denied = "not " if statement.negated else ""
    return f"{statement.intent.replace('_', ' ')}: {denied}{', '.join(_words(statement.slots.values()))}"


def _words(values: Iterable[Any]) -> Iterator[str]:
    for value in values:
        if isinstance(value, list | tuple):
            yield from _words(value)
        else:
            yield str(value).replace("_", " ")
