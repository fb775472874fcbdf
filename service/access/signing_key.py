"""Keeps the service's signing key: one file that only its owner may read, created on first start."""

import os
from pathlib import Path

from service.domain.refusals import NotAllowed
from service.journal.keys import SigningKey, public_key_from_pem


def load_or_create_key(file: Path) -> SigningKey:
    """Return the key in `file`, made there if missing, with mode 0600.

    Two processes that start at once end with one key: the file is linked into place whole, and the second
    link fails. Raises NotAllowed where others can read an existing file.
    """
    if not file.exists():
        _create(file)
    if file.stat().st_mode & 0o077:
        raise NotAllowed(
            f"Others can read the signing key {file}.", hint="Set its mode to 0600 and ask who read it."
        )
    return SigningKey.from_pem(file.read_bytes())


def earlier_keys(folder: Path) -> frozenset[bytes]:
    """Return the raw public keys in `folder`, with which the service signed before its present key.

    After a change of key they let older jobs go on and be packaged. Raises BadSigningKey for a file that is
    none.
    """
    return frozenset(public_key_from_pem(file.read_bytes()) for file in sorted(folder.glob("*.pem")))


def _create(file: Path) -> None:
    file.parent.mkdir(parents=True, exist_ok=True)
    draft = file.with_name(f".{file.name}.{os.getpid()}")
    handle = os.open(draft, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    with os.fdopen(handle, "wb") as opened:
        opened.write(SigningKey.create().to_pem())
        opened.flush()
        os.fsync(opened.fileno())
    try:
        os.link(draft, file)
    except FileExistsError:
        pass
    finally:
        draft.unlink()
