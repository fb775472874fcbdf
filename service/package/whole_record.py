"""Is a stored record whole enough to be signed? What was altered must not get our signature."""

from collections.abc import Collection, Sequence

from service.domain.refusals import Conflict
from service.journal.check import StoredEntry, check_chain
from service.journal.heads import Head, SignedHead, check_head, fingerprint

MOST_NAMED = 5
"""At most this many problems of a broken record are named in one refusal."""


class BrokenRecord(Conflict):
    """The stored entries are not the chain that the signed head names; the message names them."""

    code = "broken-record"
    title = "The stored record was altered"


def refuse_broken(
    sealed: Sequence[StoredEntry],
    signed: SignedHead,
    keys: Collection[bytes],
) -> Head:
    """Return the signed head, if one of our keys signed it and the stored entries are the chain it names.

    `keys` are the raw public keys that the service signs with, or did: whoever can write to the database
    could sign a head with a key of his own, and must not get our signature on it.

    Raises
    ------
    BrokenRecord
        The head is not signed with one of these keys, or the entries differ; the first that do are named.
    WrongSignature
        The head's signature does not fit.

    """
    head = check_head(signed.document, signed.signature, signed.public_key)
    if signed.public_key not in keys:
        stranger = fingerprint(signed.public_key)
        raise BrokenRecord(f"The newest head is signed with the key {stranger}, which is not the service's.")
    found = check_chain(sealed, job=head.job, head_seq=head.seq, head_hash=head.hash).problems
    if found:
        more = f" And {len(found) - MOST_NAMED} more." if len(found) > MOST_NAMED else ""
        named = " ".join(f"Entry {problem.seq}: {problem.what}" for problem in found[:MOST_NAMED])
        raise BrokenRecord(f"The stored record is not as it was sealed, so no package is made. {named}{more}")
    return head
