"""Have a photo read, and bring the reading into the job.

Done again from the start if the worker died on the way.
"""

from service.domain.incoming import ReadingResult
from service.ports import LinkRow, MediaRow, Ports, SeenPhoto, WorkItem, stamp
from service.use_cases.job_record import LAYOUT, REFERENCE, advance, load_job


def read_photo(ports: Ports, work: WorkItem) -> None:
    """Read one photo. The result, its picture and the end of the work are kept in one transaction."""
    with ports.transactions.reading() as tx:
        record = load_job(ports, tx, work.site_id, work.job_id)
    photo = record.state.photos[work.arguments["item"]]
    layout = ports.media.get(record.pinned.pins[LAYOUT])
    reference = record.pinned.pins.get(REFERENCE)
    own_photo = ports.media.get(reference) if reference else None
    content = ports.media.get(photo.media)
    seen = ports.reading.read(content, layout, record.pinned.chart, own_photo, photo.upper_edge)
    picture = ports.media.put(seen.annotated) if seen.annotated else None
    keep_reading(ports, work, seen, photo.media, picture)


def keep_reading(
    ports: Ports, work: WorkItem, seen: SeenPhoto, photo: str, picture: str | None = None
) -> None:
    """Bring a reading into the job and finish the work."""
    result = ReadingResult(
        photo=work.arguments["item"],
        contacts=seen.contacts,
        p=seen.p,
        reading={**seen.reading, "annotated": picture, "reader": ports.reading.fingerprint()},
    )
    with ports.transactions.writing() as tx:
        record = load_job(ports, tx, work.site_id, work.job_id)
        advance(ports, tx, record, result)
        if picture is not None:
            size = len(seen.annotated or b"")
            now = stamp(ports.clock.now())
            tx.listings.put_media(MediaRow(work.site_id, picture, "image/jpeg", size, now))
            tx.listings.link_media(LinkRow(work.job_id, picture, work.site_id, "annotated", photo))
        tx.queue.finish(work)


def reading_failed(ports: Ports, work: WorkItem, why: str) -> None:
    """Record that the reader failed for good: the photo counts as refused, never as read."""
    with ports.transactions.reading() as tx:
        record = load_job(ports, tx, work.site_id, work.job_id)
    photo = record.state.photos[work.arguments["item"]]
    reading = {"verdict": "refused", "reason": f"The reader failed {work.attempts} times: {why}"}
    nothing = {contact.label: "none" for contact in record.pinned.chart.contacts}
    keep_reading(ports, work, SeenPhoto(nothing, {}, reading), photo.media)
