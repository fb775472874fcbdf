"""Packages to start a test from: one small invented job with photos, clips, readings and findings."""

import hashlib
import shutil
from pathlib import Path

from service.domain.entries import NewEntry
from service.domain.refusals import NotFound
from service.journal.heads import sign_head
from service.package.bag import manifest
from service.package.build import JobRecord, MediaFile, build_package
from tests.service.journal.journals import JOB, KEY, head_of, sealed

PHOTO = b"\xff\xd8 a photo of the switch, as the phone sent it \xff\xd9"
DRAWN = b"\xff\xd8 the same photo with what was measured in it \xff\xd9"
CLIP = b"RIFF a clip in which somebody says: contact nine closed"
CHART = b"valve: RW-204\ncontacts: [9, 10]\n"
LAYOUT = b'{"rotors": []}'
READING = {
    "file": "photo",
    "layout": "invented",
    "verdict": "read",
    "reason": None,
    "annotated": hashlib.sha256(DRAWN).hexdigest(),
    "reader": "reader 1",
    "contacts": {"R1-top-1": "closed"},
    "bars": [
        {
            "rotor": "R1",
            "bar": "upper",
            "angle_deg": 30.07,
            "sigma_deg": 0.8,
            "state": "along",
            "p_along": 0.99,
        }
    ],
}
HEARING = {
    "file": "clip",
    "verdict": "heard",
    "text": "contact nine closed",
    "confidence": 0.93,
    "intent": "contact",
    "hearer": "hearer 1",
}
FINDING = {
    "step": "as_found",
    "attempt": 1,
    "label": "9",
    "claim": "closed",
    "reading": "closed",
    "expected": "closed",
    "verdict": "agreed",
    "reasons": ["What was said, what the photo shows and what the chart wants are the same."],
    "p": 0.99,
    "changed_after_reading": False,
}


def sha256(content: bytes) -> str:
    return hashlib.sha256(content).hexdigest()


STORE = {sha256(content): content for content in (PHOTO, DRAWN, CLIP, CHART, LAYOUT)}
MEDIA = (
    MediaFile(sha256(PHOTO), "image/jpeg", "photo"),
    MediaFile(sha256(DRAWN), "image/jpeg", "annotated", of=sha256(PHOTO)),
    MediaFile(sha256(CLIP), "audio/wav", "clip"),
    MediaFile(sha256(CHART), "application/yaml", "definition", of="chart"),
    MediaFile(sha256(LAYOUT), "application/json", "definition", of="layout"),
)
NEWS = (
    NewEntry(
        "job_opened",
        {
            "job": JOB,
            "valve": "RW-204",
            "pins": {"chart": sha256(CHART), "layout": sha256(LAYOUT)},
            "people": [{"id": "p-anna", "name": "Anna Berg", "roles": ["technician"]}],
        },
        person="p-otto",
    ),
    NewEntry(
        "photo_taken_in",
        {"media": sha256(PHOTO), "step": "as_found"},
        person="p-anna",
        device="d-1",
        device_seq=1,
    ),
    NewEntry(
        "clip_taken_in",
        {"media": sha256(CLIP), "step": "as_found"},
        person="p-anna",
        device="d-1",
        device_seq=2,
    ),
    NewEntry(
        "photo_read", {"photo": "entry-1", "contacts": {"9": "closed"}, "p": {"9": 0.99}, "reading": READING}
    ),
    NewEntry("clip_heard", {"clip": "entry-2", "hearing": HEARING, "read_back": "Nine: closed."}),
    NewEntry("finding_made", FINDING),
    NewEntry("hold_point_released", {"step": "as_found", "head": "00" * 32, "reason": ""}, person="p-vera"),
)
VERSIONS = {"limitwitness": "0.1.0"}


def read_media(digest: str) -> bytes:
    """Return stored media, or refuse as a media store does."""
    if digest not in STORE:
        raise NotFound("No media with this hash is stored.")
    return STORE[digest]


def record_of(news=NEWS, redacted=(), key=KEY, media=MEDIA) -> JobRecord:
    """Seal `news` and return the record; payloads of the entries in `redacted` are removed."""
    chain = sealed(news)
    pairs = [
        (stored.envelope, None if seq in redacted else stored.payload) for seq, stored in enumerate(chain)
    ]
    return JobRecord(pairs, sign_head(head_of(chain), key), media, VERSIONS)


def packaged(out: Path, record: JobRecord | None = None, key=KEY) -> Path:
    """Build the package of the invented job."""
    return build_package(record or record_of(key=key), read_media, key, out)


def files_of(package: Path) -> dict[str, bytes]:
    """Return every file of a package folder by its path."""
    return {
        path.relative_to(package).as_posix(): path.read_bytes()
        for path in package.rglob("*")
        if path.is_file()
    }


def copy_of(package: Path, out: Path) -> Path:
    """Copy a package folder, to be altered."""
    shutil.copytree(package, out)
    return out


def recompute_manifests(package: Path) -> None:
    """Do what somebody does who hides a change: write the payload and tag manifests and the oxum anew."""
    files = files_of(package)
    payload = {path: content for path, content in files.items() if path.startswith("data/")}
    info = (package / "bag-info.txt").read_text().splitlines()
    oxum = f"Payload-Oxum: {sum(map(len, payload.values()))}.{len(payload)}"
    lines = [oxum if line.startswith("Payload-Oxum") else line for line in info]
    (package / "bag-info.txt").write_text("\n".join(lines) + "\n")
    for algorithm in ("sha256", "sha512"):
        digests = {path: hashlib.new(algorithm, content).hexdigest() for path, content in payload.items()}
        (package / f"manifest-{algorithm}.txt").write_bytes(manifest(digests))
    tags = {
        path: content
        for path, content in files_of(package).items()
        if not path.startswith(("data/", "tagmanifest-"))
    }
    for algorithm in ("sha256", "sha512"):
        digests = {path: hashlib.new(algorithm, content).hexdigest() for path, content in tags.items()}
        (package / f"tagmanifest-{algorithm}.txt").write_bytes(manifest(digests))
