"""A package holds everything as it is stored; the same head gives the same bytes; others can read it."""

import json
import re
import zipfile
from dataclasses import replace

import bagit
import pytest

from service.domain.refusals import Conflict
from service.journal.heads import WrongSignature
from service.package import paths
from service.package.build import BrokenRecord, JobRecord, TooLargeForZip, build_package
from service.package.check import check_package
from tests.service.journal.journals import JOB, KEY, OTHER_KEY
from tests.service.package import packages
from tests.service.package.packages import files_of, packaged, read_media, record_of, sha256


def test_the_same_head_gives_the_same_bytes(tmp_path):
    first, second = packaged(tmp_path / "a" / "one.zip"), packaged(tmp_path / "b" / "two.zip")
    assert first.read_bytes() == second.read_bytes()
    assert files_of(packaged(tmp_path / "c")) == files_of(packaged(tmp_path / "d"))


def test_folder_and_zip_hold_the_same_files(tmp_path):
    folder, archive = packaged(tmp_path / "folder"), packaged(tmp_path / "package.zip")
    with zipfile.ZipFile(archive) as opened:
        zipped = {name.partition("/")[2]: opened.read(name) for name in opened.namelist()}
        assert opened.testzip() is None
    assert zipped == files_of(folder)


def test_entries_and_media_are_the_bytes_that_are_stored(tmp_path):
    package, record = packaged(tmp_path / "p"), record_of()
    for seq, (envelope, payload) in enumerate(record.sealed):
        assert (package / paths.envelope_path(seq)).read_bytes() == envelope
        assert (package / paths.payload_path(seq)).read_bytes() == payload
    for digest, content in packages.STORE.items():
        if content not in {packages.CHART, packages.LAYOUT}:
            (file,) = (package / "data" / "media").glob(f"{digest}.*")
            assert file.read_bytes() == content
    assert (package / "data" / "definitions" / "chart.yaml").read_bytes() == packages.CHART
    assert (package / "data" / "definitions" / "layout.json").read_bytes() == packages.LAYOUT


def test_the_contents_list_every_other_file_with_its_hash(tmp_path):
    package = packaged(tmp_path / "p")
    contents = json.loads((package / "contents.json").read_bytes())
    files = files_of(package)
    beside = {"contents.json", "contents.json.sig", "tagmanifest-sha256.txt", "tagmanifest-sha512.txt"}
    assert set(contents["files"]) == set(files) - beside
    assert all(sha256(files[path]) == listed["sha256"] for path, listed in contents["files"].items())
    assert contents["entries"] == len(packages.NEWS)
    assert contents["versions"] == {
        "limitwitness": "0.1.0",
        "readers": ["reader 1"],
        "hearers": ["hearer 1"],
    }


def test_readings_hearings_and_findings_lie_apart(tmp_path):
    package = packaged(tmp_path / "p")
    assert json.loads((package / "data/readings/00003.json").read_bytes()) == packages.READING
    assert json.loads((package / "data/hearings/00004.json").read_bytes()) == packages.HEARING
    assert json.loads((package / "data/findings.json").read_bytes()) == [{"entry": 5, **packages.FINDING}]


@pytest.mark.outside(source="RFC 8493 as read by the bagit library 1.9")
def test_an_outside_reader_accepts_the_bag(tmp_path):
    bag = bagit.Bag(str(packaged(tmp_path / "p")))
    assert bag.validate(processes=1)
    assert bag.version_info == (1, 0)
    assert set(bag.algorithms) == {"sha256", "sha512"}


@pytest.mark.outside(source="RFC 8493 sections 2.1.1, 2.2.1, 2.2.2: declaration, tag manifests, Payload-Oxum")
def test_the_bag_declares_itself_lists_its_tag_files_and_counts_its_octets(tmp_path):
    files = files_of(packaged(tmp_path / "p"))
    assert files["bagit.txt"] == b"BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n"
    tags = {path for path in files if not path.startswith(("data/", "tagmanifest-"))}
    for algorithm, digits in (("sha256", 64), ("sha512", 128)):
        lines = files[f"tagmanifest-{algorithm}.txt"].decode().splitlines()
        assert {line.split("  ", 1)[1] for line in lines} == tags
        assert all(re.fullmatch(rf"[0-9a-f]{{{digits}}}  \S+", line) for line in lines)
    payload = [content for path, content in files.items() if path.startswith("data/")]
    assert (
        f"Payload-Oxum: {sum(map(len, payload))}.{len(payload)}"
        in files["bag-info.txt"].decode().splitlines()
    )


def test_a_removed_payload_and_what_only_it_named_are_not_in_the_package(tmp_path):
    package = packaged(tmp_path / "p", record_of(redacted=(2, 4)))
    contents = json.loads((package / "contents.json").read_bytes())
    assert contents["redacted"] == [2, 4]
    everything = b"".join(files_of(package).values())
    assert packages.CLIP not in everything
    assert b"contact nine closed" not in everything
    assert not (package / paths.payload_path(2)).exists()


def test_a_medium_that_the_store_lost_is_withheld_with_the_reason(tmp_path):
    def lost(digest):
        content = read_media(digest)
        if digest == sha256(packages.PHOTO):
            raise Conflict("The stored bytes no longer have this hash.")
        return content + b"x" if digest == sha256(packages.CLIP) else content

    package = build_package(record_of(), lost, KEY, tmp_path / "p")
    withheld = json.loads((package / "contents.json").read_bytes())["withheld"]
    assert withheld == dict.fromkeys(
        [sha256(packages.PHOTO), sha256(packages.CLIP)], "The stored bytes no longer have this hash."
    )


def test_an_existing_place_is_not_overwritten(tmp_path):
    (tmp_path / "p").mkdir()
    with pytest.raises(Conflict, match="exists already"):
        packaged(tmp_path / "p")


@pytest.mark.parametrize("name", ["p", "p.zip"])
def test_nothing_is_left_behind_when_the_package_cannot_be_made(tmp_path, name):
    def broken(digest):
        raise OSError("the disk is gone")

    with pytest.raises(OSError, match="disk is gone"):
        build_package(record_of(), broken, KEY, tmp_path / name)
    assert list(tmp_path.iterdir()) == []


def test_no_package_is_made_of_a_record_that_is_not_whole(tmp_path):
    record = record_of()
    (envelope, payload), rest = record.sealed[0], record.sealed[1:]
    altered = JobRecord([(envelope, payload + b" "), *rest], record.head, record.media, record.versions)
    short = JobRecord(record.sealed[:-1], record.head, record.media, record.versions)
    with pytest.raises(BrokenRecord, match="Entry 0: The payload is changed"):
        packaged(tmp_path / "p", altered)
    with pytest.raises(BrokenRecord, match="Entry 6 is missing"):
        packaged(tmp_path / "p", short)


def test_a_head_with_a_foreign_signature_makes_no_package(tmp_path):
    record = record_of(key=OTHER_KEY)
    head = type(record.head)(record.head.document, record.head.signature, KEY.public_key)
    with pytest.raises(WrongSignature):
        packaged(tmp_path / "p", JobRecord(record.sealed, head, record.media, record.versions))


def test_more_than_one_zip_holds_is_refused_by_name(tmp_path, monkeypatch):
    monkeypatch.setattr("service.package.stored_zip.MOST_FILES", 20)
    with pytest.raises(TooLargeForZip, match="too much"):
        packaged(tmp_path / "p.zip")
    assert packaged(tmp_path / "p").is_dir()


def test_the_folder_in_the_zip_is_named_after_the_job(tmp_path):
    with zipfile.ZipFile(packaged(tmp_path / "p.zip")) as opened:
        assert {name.split("/")[0] for name in opened.namelist()} == {f"job-{JOB}"}


def test_a_head_signed_with_an_earlier_key_of_the_service_is_packaged_and_signed_anew(tmp_path):
    record = record_of(key=OTHER_KEY)
    with pytest.raises(BrokenRecord, match=OTHER_KEY.fingerprint):
        packaged(tmp_path / "p", record)
    package = packaged(tmp_path / "p", replace(record, earlier_keys=(OTHER_KEY.public_key,)))
    assert check_package(package, KEY.fingerprint).exit_status == 0
