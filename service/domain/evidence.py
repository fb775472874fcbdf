"""Photos and readings of a checkpoint, and the findings that claim, reading and chart make together."""

from collections.abc import Iterator, Mapping
from dataclasses import replace
from typing import cast

from service.domain.entries import Entry
from service.domain.findings import Claim, ExpectedState, Finding, ReadState, make_finding
from service.domain.job_state import Attempt, ItemRecord, JobState, PhotoRecord
from service.domain.voiding import put, with_attempt, with_effect

CLEAR = ("closed", "open")


def take_photo(state: JobState, entry: Entry) -> JobState:
    """Note a photo as it came; it joins an attempt once its device's line has come to it."""
    body = entry.body
    photo = PhotoRecord(
        item=entry.id,
        step=entry.step,
        media=str(body.get("media", "")),
        of=str(body.get("of", "switch")),
        seq=entry.seq,
        burst=body.get("burst"),
        upper_edge=_shares(body.get("upper_edge")),
    )
    return replace(state, photos=put(state.photos, entry.id, photo))


def _shares(stated: object) -> tuple[float, float] | None:
    match stated:
        case [int() | float() as across, int() | float() as down]:
            return float(across), float(down)
        case _:
            return None


def take_reading(state: JobState, photo: str, entry: Entry) -> JobState:
    """Add a reading to its photo; a later usable one replaces an earlier, a refused one never does."""
    record = state.photos[photo]
    contacts = {str(label): str(seen) for label, seen in entry.group("contacts").items()}
    if not any(seen != "none" for seen in contacts.values()):
        reading = entry.group("reading")
        reason = str(reading.get("reason") or "nothing could be read")
        if record.contacts is None:
            record = replace(record, refused=reason, read_seq=entry.seq)
    else:
        p = {str(label): one for label, one in entry.group("p").items() if isinstance(one, int | float)}
        record = replace(record, contacts=contacts, p=p, read_seq=entry.seq, refused=None)
    return replace(state, photos=put(state.photos, photo, record))


def attach_photo(state: JobState, item: ItemRecord, *, late: bool) -> JobState:
    """Let a photo join the newest attempt at its checkpoint."""
    photo = state.photos[item.entry.id]
    step = photo.step
    if step is None or state.pinned.procedure.step(step).checkpoint is None:
        return state
    attempt = state.attempt(step) or Attempt(1)
    state = replace(
        state, photos=put(state.photos, photo.item, replace(photo, attempt=attempt.number, late=late))
    )
    return with_attempt(state, step, replace(attempt, photos=(*attempt.photos, photo.item)))


def findings(state: JobState, step: str, number: int | None = None) -> tuple[Finding, ...]:
    """Return the findings of every contact at a checkpoint, of its newest attempt or the one numbered.

    Empty where the checkpoint has no attempt; contacts that the checkpoint leaves open are `not-judged`.
    """
    attempts = state.attempts.get(step, ())
    attempt = attempts[(number or len(attempts)) - 1] if attempts else None
    if attempt is None:
        return ()
    return tuple(
        _finding(state, attempt, label, want) for label, want in state.pinned.expected.get(step, {}).items()
    )


def _finding(state: JobState, attempt: Attempt, label: str, want: str) -> Finding:
    claim = attempt.claims.get(label)
    read, p = reading_of(state, attempt, label)
    denied = attempt.denied.get(label)
    return make_finding(
        label,
        cast("Claim", claim.state if claim else "none"),
        cast("ReadState", read),
        cast("ExpectedState", want),
        p=p,
        denied=cast("None", denied),
        changed_after_reading=bool(claim and claim.changed_after_reading),
    )


def reading_of(state: JobState, attempt: Attempt, label: str) -> tuple[str, float | None]:
    """Return what the newest photo that shows a contact says of it, with its probability.

    Photos of one burst that show it differently show nothing: one release of the shutter saw one position.
    """
    newest = next((photo for photo in _newest_first(state, attempt) if _shows(photo, label)), None)
    if newest is None:
        return "none", None
    if newest.burst is not None:
        burst = [photo for photo in _newest_first(state, attempt) if photo.burst == newest.burst]
        if len({_state(photo, label) for photo in burst if _shows(photo, label)}) > 1:
            return "none", None
    return _state(newest, label), newest.p.get(label)


def unread(state: JobState, attempt: Attempt) -> bool:
    """Return whether a photo of the attempt, late ones left out, still waits for its reading."""
    photos = (state.photos[item] for item in attempt.photos)
    return any(photo.read_seq is None for photo in photos if not photo.late)


def counted_photos(state: JobState, attempt: Attempt) -> tuple[str, ...]:
    """Return the photos of an attempt that came before its step had passed."""
    return tuple(item for item in attempt.photos if not state.photos[item].late)


def usable_photo(state: JobState, attempt: Attempt) -> bool:
    """Return whether an attempt has a photo in which something was read."""
    return any(state.photos[item].contacts is not None for item in counted_photos(state, attempt))


def waiting_photo_differs(state: JobState, step: str) -> bool:
    """Return whether a photo that waits past a gap shows a judged contact as the chart does not want it."""
    expected: Mapping[str, str] = state.pinned.expected.get(step, {})
    for photo in state.photos.values():
        if photo.step != step or photo.attempt is not None or photo.contacts is None:
            continue
        if state.items[photo.item].applied:
            continue
        if any(
            seen in (*CLEAR, "impossible", "between")
            and expected.get(label) in CLEAR
            and seen != expected[label]
            for label, seen in photo.contacts.items()
        ):
            return True
    return False


def note_reading(state: JobState, entry: Entry) -> JobState:
    """Say of a reading that it was refused, where it was."""
    photo = state.photos.get(str(entry.body.get("photo")))
    if photo is not None and photo.refused and photo.read_seq == entry.seq:
        return with_effect(state, entry.seq, f"The photo was refused: {photo.refused}.")
    return state


def _newest_first(state: JobState, attempt: Attempt) -> Iterator[PhotoRecord]:
    return (state.photos[item] for item in reversed(attempt.photos))


def _shows(photo: PhotoRecord, label: str) -> bool:
    return photo.contacts is not None and photo.contacts.get(label, "none") != "none"


def _state(photo: PhotoRecord, label: str) -> str:
    return str((photo.contacts or {}).get(label, "none"))
