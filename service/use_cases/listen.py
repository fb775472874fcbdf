"""Listen to a person at a step, and keep each utterance as the clip that it is.

An utterance goes the way of every clip: its bytes are stored, it is taken in as an item of its device, and what
counts is the hearing of the stored bytes. The listener only claims that piece of work for itself, so that a
spoken stop waits behind nothing; where it dies, a worker does it.
"""

import contextlib
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from service.domain.entries import Entry
from service.domain.incoming import Clip
from service.domain.refusals import Conflict, Malformed
from service.journal.digests import sha256_hex
from service.ports import Asker, Ports
from service.ports.stream import Listening, Utterance
from service.use_cases.hear_clip import hear_clip, intents_at
from service.use_cases.job_record import JobRecord, load_job, vocabulary_of
from service.use_cases.sights import sights_of
from service.use_cases.store_media import Upload, store_media
from service.use_cases.take_in import bring_in, next_number, require_device, taken_of, work_key

CLAIM_S = 15.0
"""Seconds after which a worker takes over what a listener claimed."""


@dataclass(frozen=True)
class Origin:
    """What the stream knows of an utterance beside its sound.

    `item` is its identity; `device_seq` its number in its device's line, or None for the next that is free;
    `device_time` the device's wall clock at the first sample, `monotonic_ns` that sample's place in the stream
    `boot_id`; `known_seq` the newest entry that the person had been told of when the utterance began.
    """

    item: str
    step: str
    device_time: str
    boot_id: str
    monotonic_ns: int
    device_seq: int | None = None
    known_seq: int | None = None


@dataclass(frozen=True)
class Kept:
    """What became of an utterance in the record. `hearing` is None where a worker has yet to hear it."""

    media: str
    device_seq: int
    entry: int
    pending: bool
    status: str
    hearing: Mapping[str, Any] | None = None
    heard_entry: int | None = None
    read_back: str = ""
    effect: str = ""


def begin_listening(  # noqa: PLR0913 - a stream is opened with all of these
    ports: Ports, asker: Asker, job_id: str, step: str, encoding: str, rate: int
) -> Listening:
    """Begin to listen for what a step allows.

    Raises NotAllowed without an enrolled device or a part in the job, NotFound, Malformed for a step that there is
    not, BadMedia for an encoding that is not heard.
    """
    require_device(asker)
    with ports.transactions.reading() as tx:
        record = load_job(ports, tx, asker.site_id, job_id)
        sights_of(tx, record, asker)
    words = vocabulary_of(record.pinned.valve, record.pinned.chart)
    return ports.hearing.listen(intents_for(ports, asker, job_id, step), words, encoding, rate)


def intents_for(ports: Ports, asker: Asker, job_id: str, step: str) -> list[str]:
    """Return what may be heard at another step of the job; raises Malformed for one that there is not."""
    with ports.transactions.reading() as tx:
        record = load_job(ports, tx, asker.site_id, job_id)
    if step not in record.pinned.procedure.places:
        raise Malformed("The procedure of this job has no such step.", field="step")
    return intents_at(record.state, step)


def require_part(ports: Ports, asker: Asker, job_id: str) -> None:
    """Refuse who may not be listened to in this job; raises NotAllowed, NotFound."""
    require_device(asker)
    with ports.transactions.reading() as tx:
        sights_of(tx, load_job(ports, tx, asker.site_id, job_id), asker)


def keep_utterance(ports: Ports, asker: Asker, job_id: str, utterance: Utterance, origin: Origin) -> Kept:
    """Store an utterance, take it in and hear it.

    (1) The bytes are stored. (2) The clip is taken in, and its hearing claimed, in one transaction. (3) The stored
    bytes are heard. Idempotent by `origin.item`; raises TooBusy where nothing of it could be kept.
    """
    device = require_device(asker)
    upload = Upload(sha256_hex(utterance.content), utterance.content, utterance.type, "clip")
    store_media(ports, asker, upload)  # (1)
    with ports.transactions.writing() as tx:  # (2)
        before = load_job(ports, tx, asker.site_id, job_id)
        clip = _clip(before, asker, device, utterance, origin, upload.sha256)
        after = bring_in(ports, tx, asker, before, clip)
        work = tx.queue.claim_own(f"listener of {device}", work_key(job_id, clip), CLAIM_S)
    taken = taken_of(before, after, clip)
    if work is not None:
        with contextlib.suppress(Conflict):  # a worker was quicker
            hear_clip(ports, work)  # (3)
    with ports.transactions.reading() as tx:
        record = load_job(ports, tx, asker.site_id, job_id)
    return _kept(record, upload.sha256, clip, taken.entry)


def _clip(  # noqa: PLR0913 - what makes a clip
    record: JobRecord, asker: Asker, device: str, utterance: Utterance, origin: Origin, media: str
) -> Clip:
    known = record.state.items.get(origin.item)
    number = known.entry.device_seq if known else origin.device_seq
    return Clip(
        id=origin.item,
        person=asker.person_id,
        device=device,
        device_seq=number or next_number(record.state, device),
        device_time=origin.device_time,
        boot_id=origin.boot_id,
        monotonic_ns=origin.monotonic_ns,
        step=origin.step,
        known_seq=origin.known_seq,
        media=media,
        doubts=utterance.doubts,
        began_ms_ago=0,  # both clocks are those of the first sample
    )


def _kept(record: JobRecord, media: str, clip: Clip, entry: int) -> Kept:
    heard = _heard(record, clip.id)
    body: Mapping[str, Any] = heard.body if heard else {}
    effects, line = record.state.effects, record.state.devices.get(clip.device)
    return Kept(
        media=media,
        device_seq=clip.device_seq,
        entry=entry,
        pending=line is not None and clip.id in line.waiting.values(),
        status=record.row.status,
        hearing=body.get("hearing"),
        heard_entry=heard.seq if heard else None,
        read_back=str(body.get("read_back") or ""),
        effect=effects.get(heard.seq if heard else entry) or effects.get(entry, ""),
    )


def _heard(record: JobRecord, item: str) -> Entry | None:
    heard = (one for one in reversed(record.entries) if one.kind == "clip_heard")
    return next((one for one in heard if one.body.get("clip") == item), None)
