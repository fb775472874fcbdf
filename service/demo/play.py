"""The demo from beginning to end: service, people, job, story, package, check, summary."""

import json
import shutil
import zipfile
from pathlib import Path
from typing import Any

from service.compose import samples
from service.definitions.documents import read_document
from service.demo.from_package import told_by, write_summary
from service.demo.narrator import Narrator
from service.demo.people import Account, administrator, join
from service.demo.player import MEDIA, Player
from service.demo.running_service import RunningService
from service.demo.story import Story, load_story
from service.demo.web import Web
from service.package.check import check_package

CLIPS = Path("clips") / "rw-204"


def play_demo(story_file: Path, out: Path, narrator: Narrator, without: str | None = None) -> Path:
    """Play a story into the folder `out`, `without` one fault where that is named; returns the package.

    Raises WentOtherwise where something did not happen as scripted.
    """
    story = load_story(story_file).without(without)
    narrator.title(f"limitwitness: {story.title}")
    with RunningService(out / "data") as service:
        narrator.tell(f"The service runs at {service.address}; its log is {out / 'data' / 'service.log'}.")
        web = Web(service.address)
        admin = administrator(web, service.invitation)
        accounts, job = _open(admin, story, narrator)
        media = {"clips": samples() / CLIPS, "photos": samples() / "photos"}
        player = Player(job, accounts, media, narrator)
        for act in story.acts:
            player.play(act)
        package = out / "package.zip"
        package.write_bytes(accounts["engineer"].call("GET", f"/v1/jobs/{job}/package"))
        web.close()
    _conclude(package, service.fingerprint, out, narrator)
    return package


def _open(admin: Account, story: Story, narrator: Narrator) -> tuple[dict[str, Account], str]:
    """Register the people of the job file with their devices, store the definitions, open the job."""
    document = read_document((story.folder / story.job).read_bytes(), "job file")
    by_name = {person["sign_in_name"]: person for person in document["people"]}
    accounts: dict[str, Account] = {}
    message: dict[str, Any] = {"valve": document["valve"], "procedure": document["procedure"], "people": {}}
    for who, (sign_in_name, device) in story.people.items():
        person = by_name[sign_in_name]
        accounts[who] = join(admin, person["name"], sign_in_name, person["roles"], device)
        message["people"][accounts[who].person] = person["roles"]
        narrator.line(who, f"{person['name']} signs in on the {device}")
    layout = read_document((story.folder / document["layout"]).read_bytes(), "layout")
    parts = ("chart", "layout", "actuator")
    files: dict[str, str] = {name: document[name] for name in parts if name in document}
    files["reference_photo"] = layout["reference_photo"]
    for name, file_name in files.items():
        file = story.folder / file_name
        message[name] = admin.store(MEDIA[file.suffix], file.read_bytes())
    opened = admin.call("POST", "/v1/jobs", message)
    narrator.line("job", f"{opened['tag']}, {opened['valve']}: {opened['job']}")
    return accounts, opened["job"]


def _conclude(package: Path, fingerprint: str, out: Path, narrator: Narrator) -> None:
    """Check the package as a stranger would, unpack it for people, and sum up from the package alone."""
    outcome = check_package(package, fingerprint)
    narrator.tell("The package, read by itself:")
    told = told_by(package)
    clips = ", ".join(f"{count} x {reason}" for reason, count in told.refused_clips.items())
    photos = ", ".join(f"{count} x {reason}" for reason, count in told.refused_photos.items())
    narrator.line("said", f"{told.heard} clips heard, {sum(told.refused_clips.values())} refused ({clips})")
    narrator.line("seen", f"{told.read} photos read, {sum(told.refused_photos.values())} refused ({photos})")
    narrator.line("concluded", ", ".join(f"{count} {verdict}" for verdict, count in told.verdicts.items()))
    narrator.line("released", ", ".join(told.released))
    verdict = outcome.verdict.replace("unchanged", "unchanged since recorded")
    narrator.line("check", f"{verdict}, signer {outcome.signer}")
    unpacked = out / "package"
    shutil.rmtree(unpacked, ignore_errors=True)
    with zipfile.ZipFile(package) as bag:
        bag.extractall(unpacked)
    report = next(unpacked.glob("*/data/report.html"))
    for one in told.caught:
        narrator.line("caught", f"{one.fault}: {one.said}")
    narrator.line("report", f"{report}, and as PDF beside it")
    narrator.line("pictures", str(report.parent / "media"))
    narrator.line("package", str(package))
    narrator.line("again", f"limitwitness check {package} --key {told.key}")
    places = {"report_html": str(report), "report_pdf": str(report.with_suffix(".pdf"))}
    write_summary(told, places, out / "summary.json")


def summary_of(out: Path) -> dict[str, Any]:
    """Return the summary that a demo left in `out`."""
    summary: dict[str, Any] = json.loads((out / "summary.json").read_text(encoding="utf-8"))
    return summary
