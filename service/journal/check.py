"""Is a journal whole? Reads stored bytes, hashes them as they are, encodes nothing anew. Bare Python.

The newest entry is named by a signed head, whose signature the caller has checked. From there each entry
names the one before it by hash, so the chain is followed backwards: what it reaches is vouched for by the
head, and what it does not reach is changed, moved, doubled, missing or added, and is named with its
sequence number.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from service.journal.digests import BEFORE_THE_FIRST, sha256_hex
from service.journal.envelope import BadEnvelopeError, Envelope, read_envelope, read_payload

StoredEntry = tuple[bytes, bytes | None]
"""The stored bytes of an entry's envelope, and of its payload document, or None where that was removed."""


@dataclass(frozen=True)
class ChainProblem:
    """What is wrong with one entry; `seq` is the place it should have, counted from 0."""

    seq: int
    what: str


@dataclass(frozen=True)
class ChainFindings:
    """What a check of a journal found: its problems, and which personal payloads were removed from it."""

    problems: tuple[ChainProblem, ...]
    redacted: tuple[int, ...]


def check_chain(entries: Sequence[StoredEntry], *, job: str, head_seq: int, head_hash: str) -> ChainFindings:
    """Compare the stored entries of one job, in stored order, with the head that names its newest entry.

    1. Each envelope is readable and belongs to the same job and site.
    2. Followed backwards from the head, each entry is there and unchanged.
    3. The entries stand in the order of the chain, and each states its own number.
    4. Nothing stands in the journal that the chain does not reach, and no entry is there twice.
    5. Each payload is the one that its envelope names; only a personal one may have been removed.
    """
    journal = _Journal(entries)
    chain = _Chain(journal, head_seq, head_hash)
    problems = [*journal.unreadable, *_foreign(journal, chain, job)]  # (1)
    problems += chain.broken  # (2)
    problems += _out_of_place(journal, chain.places)  # (3)
    problems += _not_reached(journal, chain, head_seq)  # (4)
    redacted, faults = _payloads(journal, chain)  # (5)
    problems += faults
    return ChainFindings(tuple(sorted(set(problems), key=lambda p: (p.seq, p.what))), redacted)


class _Journal:
    """The stored entries with what can be read of them; places are counted from 0."""

    def __init__(self, entries: Sequence[StoredEntry]) -> None:
        self.entries = entries
        self.envelopes: dict[int, Envelope] = {}
        self.by_hash: dict[str, int] = {}
        self.by_number: dict[int, int] = {}
        self.unreadable: list[ChainProblem] = []
        for place, (content, _) in enumerate(entries):
            self.by_hash.setdefault(sha256_hex(content), place)
            try:
                envelope = read_envelope(content)
            except BadEnvelopeError as error:
                self.unreadable.append(ChainProblem(place, str(error)))
                self.by_number.setdefault(place, place)
                continue
            self.envelopes[place] = envelope
            self.by_number.setdefault(envelope.seq, place)


class _Chain:
    """The chain followed backwards from the head.

    `places` tells where each entry of the chain was found; `explained` are the places of changed entries,
    which need no second mention; `broken` are the problems met on the way.
    """

    def __init__(self, journal: _Journal, head_seq: int, head_hash: str) -> None:
        self.places: dict[int, int] = {}
        self.explained: set[int] = set()
        self.broken: list[ChainProblem] = []
        wanted = head_hash
        for seq in range(head_seq, -1, -1):
            place = journal.by_hash.get(wanted)
            if place is not None and place in journal.envelopes:
                self.places[seq] = place
                wanted = journal.envelopes[place].prev
            else:
                wanted = self._step_over(journal, seq)
        if 0 in self.places and wanted != BEFORE_THE_FIRST:
            self.broken.append(ChainProblem(0, "The first entry names an entry before it."))

    def _step_over(self, journal: _Journal, seq: int) -> str:
        """Name an entry that the chain demands and that is not there; return the hash to go on with.

        What a changed entry says of the one before it is followed where that one exists. Otherwise the
        search goes on with the entry that states the number before, so that one change is not reported for
        all before it.
        """
        instead = journal.by_number.get(seq, seq)
        if instead >= len(journal.entries) or instead in self.places.values():
            self.broken.append(ChainProblem(seq, f"Entry {seq} is missing."))
        else:
            self.explained.add(instead)
            what = f"Entry {seq} is changed: its hash is not the one that the chain names."
            self.broken.append(ChainProblem(seq, what))
            stated = journal.envelopes.get(instead)
            if stated is not None and stated.prev in journal.by_hash:
                return stated.prev
        before = journal.by_number.get(seq - 1)
        return BEFORE_THE_FIRST if before is None else sha256_hex(journal.entries[before][0])


def _foreign(journal: _Journal, chain: _Chain, job: str) -> Iterator[ChainProblem]:
    """Name entries of another job, or of another site than the newest entry that the chain reaches."""
    newest = chain.places[max(chain.places)] if chain.places else max(journal.envelopes, default=None)
    site = None if newest is None else journal.envelopes[newest].fields["site"]
    for place, envelope in journal.envelopes.items():
        if envelope.fields["job"] != job:
            yield ChainProblem(place, f"This entry belongs to job {envelope.fields['job']}.")
        if envelope.fields["site"] != site:
            yield ChainProblem(place, f"This entry belongs to site {envelope.fields['site']}.")


def _out_of_place(journal: _Journal, places: dict[int, int]) -> Iterator[ChainProblem]:
    """Name entries of the chain that stand in another order than the chain's, or state another number."""
    for (seq, place), due in zip(sorted(places.items()), sorted(places.values()), strict=True):
        if place != due:
            yield ChainProblem(seq, f"Entry {seq} stands where entry {due} belongs: the order was changed.")
        if journal.envelopes[place].seq != seq:
            yield ChainProblem(seq, f"Entry {seq} states that it is number {journal.envelopes[place].seq}.")


def _not_reached(journal: _Journal, chain: _Chain, head_seq: int) -> Iterator[ChainProblem]:
    """Name what stands in the journal although the chain does not reach it."""
    accounted = {*chain.places.values(), *chain.explained}
    for place, (content, _) in enumerate(journal.entries):
        if place in accounted:
            continue
        twin = journal.by_hash[sha256_hex(content)]
        stated = journal.envelopes.get(place)
        seq = place if stated is None else stated.seq
        if twin != place:
            yield ChainProblem(seq, f"Entry {seq} is there a second time, in place {place}.")
        elif seq > head_seq:
            yield ChainProblem(
                seq, f"Entry {seq} stands after entry {head_seq}, which the signed head names as newest."
            )
        else:
            yield ChainProblem(seq, f"An entry in place {place} is not part of the chain.")


def _payloads(journal: _Journal, chain: _Chain) -> tuple[tuple[int, ...], list[ChainProblem]]:
    """Compare payloads with what their envelopes name; returns the removed ones and the problems."""
    redacted: list[int] = []
    problems: list[ChainProblem] = []
    for place, envelope in sorted(journal.envelopes.items()):
        payload = journal.entries[place][1]
        if payload is None and envelope.personal:
            redacted.append(envelope.seq)
            continue
        fault = _payload_fault(envelope, payload)
        if fault:
            problems.append(ChainProblem(place if place in chain.explained else envelope.seq, fault))
    return tuple(redacted), problems


def _payload_fault(envelope: Envelope, payload: bytes | None) -> str | None:
    if payload is None:
        return "The payload is missing, and it is not one that may be removed."
    if sha256_hex(payload) != envelope.payload_sha256:
        return "The payload is changed: its hash is not the one that its envelope names."
    try:
        read_payload(payload, personal=envelope.personal)
    except BadEnvelopeError as error:
        return str(error)
    return None
