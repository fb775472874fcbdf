"""A played job as a record to package: the domain's rig, with every entry sealed into a true chain."""

import hashlib
from dataclasses import replace
from datetime import timedelta

from service.domain.incoming import Photo, ReadingResult
from service.domain.job import apply
from service.domain.refusals import NotFound
from service.journal.chain import BEFORE_THE_FIRST, SealedEntry, seal, unseal
from service.journal.heads import Head, sign_head
from service.package.build import JobRecord, MediaFile
from tests.service.domain.jobs import Rig
from tests.service.journal.journals import KEY, salt

JOB, SITE = "job-1", "site-1"
STEP = "closed_end"


class SealedRig(Rig):
    """Seals what it plays. `late` gives seconds by which the item of an entry came late, by its number."""

    def __init__(self, job=None, late=()) -> None:
        self.chain: list[SealedEntry] = []
        self.late = dict(late)
        self.store: dict[str, bytes] = {}
        super().__init__(job)

    def _append(self, plan) -> None:
        for planned in plan:
            seq = self.state.last_seq + 1
            made = self.now + timedelta(hours=1, seconds=-2 - self.late.get(seq, 0))
            new = replace(planned, device_time=made.isoformat()) if planned.device is not None else planned
            previous = self.chain[-1].hash if self.chain else BEFORE_THE_FIRST
            self.chain.append(seal(previous, JOB, SITE, seq, new, self.stamp(), salt(seq)))
            entry = unseal(self.chain[-1].envelope, self.chain[-1].payload)
            self.entries.append(entry)
            self.state = apply(self.state, entry)
            self.now += timedelta(seconds=7)

    def keep(self, content: bytes) -> str:
        digest = hashlib.sha256(content).hexdigest()
        self.store[digest] = content
        return digest

    def photograph_and_read(self, contacts, refused=None, step=STEP) -> Photo:
        """Take a photo with bytes of its own, and let it be read, with a drawn picture, or refused."""
        photo = Photo(media=self.keep(b"photo %d" % len(self.store)), of="switch", **self.origin(step=step))
        self.do(photo)
        drawn = None if refused else self.keep(b"drawn %d" % len(self.store))
        bar = {
            "rotor": "R1",
            "bar": "upper",
            "angle_deg": 30.0,
            "sigma_deg": 0.8,
            "state": "along",
            "p_along": 0.99,
        }
        reading = {
            "verdict": "refused" if refused else "read",
            "reason": refused,
            "bars": [] if refused else [bar],
            "annotated": drawn,
            "reader": "reader 1",
        }
        sure = dict.fromkeys(contacts, 0.99)
        self.do(ReadingResult(photo=photo.id, contacts=contacts, p=sure, reading=reading))
        return photo

    def record(self) -> JobRecord:
        """Return what is stored of the job."""
        newest = self.entries[-1]
        head = Head(JOB, newest.seq, newest.hash, newest.received)
        media = [MediaFile(digest, "image/jpeg", "photo") for digest in self.store]
        sealed = [(stored.envelope, stored.payload) for stored in self.chain]
        return JobRecord(sealed, sign_head(head, KEY), media, {"limitwitness": "0.1.0"}, self.state)

    def read_media(self, digest: str) -> bytes:
        if digest not in self.store:
            raise NotFound("No media with this hash is stored.")
        return self.store[digest]
