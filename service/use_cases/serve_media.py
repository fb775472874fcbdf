"""Hand out stored bytes to whom they may be shown, noting what of which checkpoint that person saw."""

from service.domain.refusals import NotAllowed, NotFound
from service.ports import Asker, LinkRow, MediaRow, Ports, Transaction
from service.use_cases.job_record import JobRecord, load_job
from service.use_cases.sights import may_be_shown, note_served, sights_of

WHAT = {"photo": "photo", "clip": "claim", "annotated": "reading"}
"""What bytes show of a checkpoint, by what they are in the job."""


def serve_media(ports: Ports, asker: Asker, sha256: str) -> tuple[MediaRow, bytes]:
    """Return bytes and what is known of them.

    Raises NotFound, NotAllowed where they would prime this person, Conflict where the stored bytes have
    changed.
    """
    with ports.transactions.writing() as tx:
        row = tx.listings.media(asker.site_id, sha256)
        if row is None:
            raise NotFound("No media of this hash are stored on this site.")
        links = tx.listings.media_links(asker.site_id, sha256)
        if row.person_id != asker.person_id:
            _require_sight(ports, tx, asker, links)
    return row, ports.media.get(sha256)


def _require_sight(ports: Ports, tx: Transaction, asker: Asker, links: list[LinkRow]) -> None:
    """Refuse bytes that primed somebody in any job they belong to; whoever made them may always have them."""
    if not links:
        raise NotAllowed("These media belong to no job yet; only who stored them may have them.")
    for link in links:
        record = load_job(ports, tx, asker.site_id, link.job_id)
        sights = sights_of(tx, record, asker)
        what = WHAT.get(link.shows)
        step = _step(record, link) if what else None
        if what is None:
            continue
        if not may_be_shown(record, sights, what, step):
            raise NotAllowed("Judge first: this would show what others said or what was read.")
        if step in record.pinned.expected:
            note_served(ports, tx, record, asker, [(what, str(step))])


def _step(record: JobRecord, link: LinkRow) -> str | None:
    items = [item for item, photo in record.state.photos.items() if photo.media == link.of]
    item = link.of if link.shows != "annotated" else next(iter(items), None)
    known = record.state.items.get(item) if item else None
    step = known.entry.body.get("step") if known else None
    return step if isinstance(step, str) else None
