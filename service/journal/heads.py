"""Signed heads: the newest entry of a journal is named and signed, so that none can be dropped unseen."""

from dataclasses import asdict, dataclass

from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey

from service.domain.refusals import Malformed, Refusal
from service.journal.canonical import canonical
from service.journal.digests import is_sha256
from service.journal.keys import SigningKey, fingerprint
from service.journal.strict_json import AmbiguousJsonError, read_json

__all__ = ["BadHead", "Head", "SignedHead", "WrongSignature", "check_head", "fingerprint", "sign_head"]

HEAD_TYPE = "limitwitness head"
"""Stands in every signed head, so that a signature over something else can't be passed off as one."""


class BadHead(Malformed):
    """The bytes do not state a journal head."""

    code = "bad-head"
    title = "This is no journal head"


class WrongSignature(Refusal):
    """The signature was not made with the stated key over these bytes."""

    code = "wrong-signature"
    title = "The signature does not fit"


@dataclass(frozen=True)
class Head:
    """The newest entry of a job's journal at one time.

    Parameters
    ----------
    job
        The job's id.
    seq
        Sequence number of the newest entry; the first entry is 0, so the journal has seq + 1 entries.
    hash
        Hash of that entry's envelope.
    time
        When that entry was received by the service, RFC 3339 in UTC.

    """

    job: str
    seq: int
    hash: str
    time: str


@dataclass(frozen=True)
class SignedHead:
    """A head's exact bytes, the signature over exactly these bytes, and the raw public key of the signer."""

    document: bytes
    signature: bytes
    public_key: bytes


def head_document(head: Head) -> bytes:
    """Return the canonical bytes of a head, which are what is signed."""
    return canonical({"type": HEAD_TYPE, "v": 1, **asdict(head)})


def read_head(document: bytes) -> Head:
    """Return the head that these bytes state; raises `BadHead`."""
    try:
        stated = read_json(document)
    except AmbiguousJsonError as error:
        raise BadHead(str(error)) from error
    if not isinstance(stated, dict) or set(stated) != {"type", "v", "job", "seq", "hash", "time"}:
        raise BadHead("A head states type, v, job, seq, hash and time, and nothing else.")
    if stated["type"] != HEAD_TYPE or stated["v"] != 1:
        raise BadHead("This is no head of version 1.")
    if not isinstance(stated["seq"], int) or isinstance(stated["seq"], bool) or stated["seq"] < 0:
        raise BadHead("A head names the number of its entry, counted from 0.")
    if not is_sha256(stated["hash"]) or not all(isinstance(stated[name], str) for name in ("job", "time")):
        raise BadHead("A head states job and time as text and the hash as 64 hexadecimal digits.")
    return Head(job=stated["job"], seq=stated["seq"], hash=stated["hash"], time=stated["time"])


def sign_head(head: Head, key: SigningKey) -> SignedHead:
    """Sign a head; the same head and key give the same bytes."""
    document = head_document(head)
    return SignedHead(document, key.sign(document), key.public_key)


def check_head(document: bytes, signature: bytes, public_key: bytes) -> Head:
    """Return the head that `document` states, if `signature` over exactly these bytes fits `public_key`.

    Raises `WrongSignature` where it does not fit and `BadHead` where the bytes state no head.
    """
    try:
        Ed25519PublicKey.from_public_bytes(public_key).verify(signature, document)
    except (InvalidSignature, ValueError) as error:
        raise WrongSignature("The signature does not fit these bytes and this key.") from error
    return read_head(document)
