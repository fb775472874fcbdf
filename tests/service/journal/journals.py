"""Journals to start a test from: a few entries of one invented job, sealed one after the other."""

from service.domain.entries import NewEntry
from service.journal.chain import BEFORE_THE_FIRST, SealedEntry, seal
from service.journal.heads import Head
from service.journal.keys import SigningKey

JOB = "0193b1f0-0000-7000-8000-0000000000aa"
SITE = "north-yard"
KEY = SigningKey.from_seed(bytes(range(32)))
OTHER_KEY = SigningKey.from_seed(bytes(range(32, 64)))

NEWS = (
    NewEntry("job_opened", {"job": JOB, "valve": "RW-204", "pins": {}, "people": []}, person="p-anna"),
    NewEntry(
        "photo_taken_in",
        {"media": "ab" * 32, "step": "as_found"},
        id="0193b1f0-0000-7000-8000-000000000001",
        person="p-anna",
        device="d-1",
        device_seq=1,
        device_time="2026-11-24T10:00:00+01:00",
        boot_id="b-1",
        monotonic_ns=12_000_000_000,
    ),
    NewEntry("photo_read", {"photo": "0193b1f0-0000-7000-8000-000000000001", "p": {"9": 0.98}}),
    NewEntry("statement_made", {"intent": "note", "text": "Zürich \N{DEGREE SIGN}"}, person="p-anna"),
    NewEntry("finding_made", {"step": "as_found", "label": "9", "verdict": "agreed"}),
)


def salt(seq: int) -> str:
    """Return a salt that is the same at every run."""
    return f"{seq:032x}"


def sealed(news=NEWS, job: str = JOB) -> list[SealedEntry]:
    """Seal `news` into a chain."""
    chain: list[SealedEntry] = []
    for seq, new in enumerate(news):
        previous = chain[-1].hash if chain else BEFORE_THE_FIRST
        chain.append(seal(previous, job, SITE, seq, new, f"2026-11-24T09:00:{seq:02d}Z", salt(seq)))
    return chain


def head_of(chain: list[SealedEntry], job: str = JOB) -> Head:
    """Return the head of a chain."""
    return Head(
        job=job, seq=len(chain) - 1, hash=chain[-1].hash, time=f"2026-11-24T09:00:{len(chain) - 1:02d}Z"
    )
