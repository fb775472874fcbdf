"""Store a photo, clip or definition before anything names it."""

from dataclasses import dataclass

from service.domain.refusals import Malformed, NotFound
from service.journal.digests import sha256_hex
from service.ports import Asker, MediaRow, MediaShape, Ports, stamp


@dataclass(frozen=True)
class Upload:
    """Bytes as they arrived: the hash that the client states, and the Content-Type it declares."""

    sha256: str
    content: bytes
    declared: str
    shape: MediaShape


def store_media(ports: Ports, asker: Asker, upload: Upload) -> MediaRow:
    """Store bytes under the hash that the client states; idempotent.

    Raises BadMedia for bytes that cannot be evidence, Malformed where the hash is another's, TooBusy where
    the disk is nearly full or the store fails.
    """
    found = ports.inspector.inspect(upload.content, upload.declared, upload.shape)
    computed = sha256_hex(upload.content)
    if computed != upload.sha256:
        raise Malformed(
            f"The bytes that arrived have the hash {computed[:12]}, not {upload.sha256[:12]}.",
            field="sha256",
            hint="Send the file again; it was torn or changed on the way.",
        )
    ports.media.put(upload.content)
    row = MediaRow(
        asker.site_id,
        upload.sha256,
        found.type,
        len(upload.content),
        stamp(ports.clock.now()),
        found.width,
        found.height,
        asker.person_id,
        asker.device_id,
    )
    with ports.transactions.writing() as tx:
        tx.listings.put_media(row)
        kept = tx.listings.media(asker.site_id, upload.sha256)
    if kept is None:
        raise NotFound("What was stored cannot be found.")
    return kept
