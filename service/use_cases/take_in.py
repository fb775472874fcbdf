"""Take in what a device captured: any order, any delay, once for each identity.

Items are entries from their arrival on; past a gap in their device's sequence they wait there without
effect, except for what restricts. Only content that is not well-formed is refused here.
"""

from dataclasses import dataclass
from datetime import datetime

from service.domain.incoming import Clip, Item, Photo
from service.domain.job_state import JobState
from service.domain.refusals import Conflict, Malformed, NotAllowed, NotFound, TooBusy
from service.ports import HEAR_CLIP, READ_PHOTO, Asker, LinkRow, Ports, Transaction
from service.use_cases.job_record import JobRecord, advance, load_job


@dataclass(frozen=True)
class Taken:
    """What became of an item: whether it is new, its entry, whether it waits past a gap."""

    new: bool
    entry: int
    pending: bool
    record: JobRecord


def take_in(ports: Ports, asker: Asker, job_id: str, item: Item, device_clock: str | None = None) -> Taken:
    """Take one item in; idempotent by device and identity.

    Raises NotAllowed without an enrolled device, NotFound where its media were not stored first, Conflict
    where the identity came before with other content (which itself is kept as an entry), TooBusy where a
    queue is full.
    """
    device = require_device(asker)
    with ports.transactions.writing() as tx:
        before = load_job(ports, tx, asker.site_id, job_id)
        after = bring_in(ports, tx, asker, before, item)
        _note_clock(ports, tx, device, device_clock)
    return taken_of(before, after, item)


def require_device(asker: Asker) -> str:
    """Return the enrolled device that items come from; raises NotAllowed where the sign-in has none."""
    if asker.device_id is None:
        raise NotAllowed("Items come from an enrolled device.", hint="Sign in with the device's token.")
    return asker.device_id


def bring_in(ports: Ports, tx: Transaction, asker: Asker, before: JobRecord, item: Item) -> JobRecord:
    """Take one item in within a transaction that holds the write lock, and queue the work that it causes."""
    known = item.id in before.state.items
    if not known:
        _require_room(ports, tx, before, item)
        _require_media(tx, asker, item)
    after = advance(ports, tx, before, item)
    if not known:
        _queue(tx, after, item)
    return after


def taken_of(before: JobRecord, after: JobRecord, item: Item) -> Taken:
    """Return what became of an item; raises Conflict, once that is kept, where its identity came before."""
    added = after.entries[len(before.entries) :]
    if any(entry.kind == "item_conflicted" for entry in added):
        raise Conflict(
            "This identity came before with other content. Both are kept; the first one counts.",
            field="item",
            hint="Give a new identity to new content.",
        )
    line = after.state.devices.get(item.device)
    pending = line is not None and item.id in line.waiting.values()
    entry = after.state.items[item.id].entry.seq
    return Taken(new=bool(added), entry=entry, pending=pending, record=after)


def next_number(state: JobState, device: str | None) -> int:
    """Return the least number that a device can give to its next item of a job."""
    line = state.devices.get(device or "")
    return max([0, line.done, *line.waiting]) + 1 if line else 1


def work_key(job_id: str, item: Item) -> str:
    """Return the key under which the work that an item causes is queued, once."""
    kind = HEAR_CLIP if isinstance(item, Clip) else READ_PHOTO
    return f"{kind}:{job_id}:{item.id}"


def _require_room(ports: Ports, tx: Transaction, record: JobRecord, item: Item) -> None:
    line = record.state.devices.get(item.device)
    if line is not None and len(line.waiting) >= ports.limits.pending_limit:
        raise TooBusy("Too many items of this device wait past a gap.", retry_after_s=30, status=429)
    if tx.queue.waiting() >= ports.limits.queue_limit:
        raise TooBusy("Too much waits to be heard and read.", retry_after_s=10, status=429)


def _require_media(tx: Transaction, asker: Asker, item: Item) -> None:
    if not isinstance(item, Clip | Photo):
        return
    row = tx.listings.media(asker.site_id, item.media)
    if row is None:
        raise NotFound(
            f"No media of hash {item.media[:12]} are stored here.", field="media", hint="Put the bytes first."
        )
    wanted = "audio/" if isinstance(item, Clip) else "image/"
    if not row.type.startswith(wanted):
        raise Malformed(f"These media are {row.type}, which this kind of item is not made of.", field="media")


def _queue(tx: Transaction, record: JobRecord, item: Item) -> None:
    if not isinstance(item, Clip | Photo):
        return
    kind, shows = (HEAR_CLIP, "clip") if isinstance(item, Clip) else (READ_PHOTO, "photo")
    row = record.row
    tx.listings.link_media(LinkRow(row.id, item.media, row.site_id, shows, item.id))
    if isinstance(item, Photo) and not _shows_the_switch(record, item):
        return
    tx.queue.put(row.site_id, row.id, kind, work_key(row.id, item), {"item": item.id})


def _shows_the_switch(record: JobRecord, photo: Photo) -> bool:
    """Tell whether a photo is for the reader: every one of a checkpoint, elsewhere those framed on the switch."""
    return photo.of == "switch" or photo.step in record.pinned.expected


def _note_clock(ports: Ports, tx: Transaction, device_id: str, device_clock: str | None) -> None:
    """Keep the estimate of the device's clock offset; a clock that cannot be read changes nothing."""
    if device_clock is None:
        return
    try:
        stated = datetime.fromisoformat(device_clock)
    except ValueError as error:
        raise Malformed("The device's clock is not RFC 3339.", field="Device-Clock") from error
    if stated.tzinfo is None:
        raise Malformed("The device's clock has no offset from UTC.", field="Device-Clock")
    offset = (stated - ports.clock.now()).total_seconds()
    tx.registers.set_clock_offset(device_id, round(offset, 3))
