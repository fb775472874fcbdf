"""Packages altered by somebody who knows how they are made: every alteration is found and named."""

import hashlib
import json
import random
import shutil
import zipfile

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from service.domain.entries import NewEntry
from service.journal.canonical import canonical
from service.journal.heads import sign_head
from service.package import paths
from service.package.check import NotAPackageError, check_package
from tests.service.journal.journals import KEY, OTHER_KEY, head_of, sealed
from tests.service.package import packages
from tests.service.package.packages import NEWS, copy_of, files_of, packaged, recompute_manifests, record_of

LAST = len(NEWS) - 1


@pytest.fixture(scope="module")
def intact(tmp_path_factory):
    return packaged(tmp_path_factory.mktemp("intact") / "package")


@pytest.fixture(scope="module")
def zipped(tmp_path_factory):
    return packaged(tmp_path_factory.mktemp("zipped") / "package.zip")


def named(package, key=KEY.fingerprint):
    """Return the paths and entries that the check names; the package MUST be found changed."""
    outcome = check_package(package, key)
    assert outcome.exit_status == 1
    assert outcome.problems
    return {problem.path for problem in outcome.problems}, {problem.entry for problem in outcome.problems}


def edit(package, path, change):
    (package / path).write_bytes(change((package / path).read_bytes()))


def hide(package, path):
    """Recompute the manifests after a change, unless the change is one of the manifests themselves."""
    if not path.startswith(("manifest-", "tagmanifest-", "bag-info")):
        recompute_manifests(package)


def put_back(package, files):
    """Make an altered package what it was."""
    for path, content in files.items():
        if not (package / path).exists() or (package / path).read_bytes() != content:
            (package / path).write_bytes(content)


@pytest.mark.parametrize("hidden", [False, True], ids=["plainly", "with recomputed manifests"])
def test_one_changed_byte_in_each_file_is_found_and_its_file_named(intact, tmp_path, hidden):
    chance = random.Random(20261125)  # noqa: S311 - the same alterations at every run
    files, package = files_of(intact), copy_of(intact, tmp_path / "p")
    for path, content in files.items():
        altered = bytearray(content)
        altered[chance.randrange(len(altered))] ^= chance.randrange(1, 256)
        (package / path).write_bytes(altered)
        if hidden:
            hide(package, path)
        assert path in named(package)[0], path
        put_back(package, files)


@pytest.mark.parametrize("hidden", [False, True], ids=["plainly", "with recomputed manifests"])
def test_each_removed_file_is_named(intact, tmp_path, hidden):
    files, package = files_of(intact), copy_of(intact, tmp_path / "p")
    for path in files:
        (package / path).unlink()
        if hidden:
            hide(package, path)
        assert path in named(package)[0], path
        put_back(package, files)


@pytest.mark.parametrize(
    "path", ["data/media/" + "0" * 64 + ".jpg", "data/entries/00007.envelope.json", "note.txt"]
)
def test_an_added_file_is_named(intact, tmp_path, path):
    package = copy_of(intact, tmp_path / "p")
    (package / path).write_bytes(b"added")
    recompute_manifests(package)
    assert path in named(package)[0]


def test_an_edited_entry_is_named(intact, tmp_path):
    package = copy_of(intact, tmp_path / "p")
    edit(package, paths.payload_path(5), lambda content: content.replace(b'"agreed"', b'"seen"'))
    recompute_manifests(package)
    files, entries = named(package)
    assert paths.payload_path(5) in files
    assert 5 in entries


def test_an_edited_entry_with_its_envelope_made_to_fit_is_named(intact, tmp_path):
    package = copy_of(intact, tmp_path / "p")
    edit(package, paths.payload_path(5), lambda content: content.replace(b'"agreed"', b'"seen"'))
    payload = (package / paths.payload_path(5)).read_bytes()
    fits = hashlib.sha256(payload).hexdigest()
    edit(
        package,
        paths.envelope_path(5),
        lambda content: canonical({**json.loads(content), "payload_sha256": fits}),
    )
    recompute_manifests(package)
    assert 5 in named(package)[1]


def test_the_last_entry_dropped_is_named(intact, tmp_path):
    package = copy_of(intact, tmp_path / "p")
    (package / paths.envelope_path(LAST)).unlink()
    (package / paths.payload_path(LAST)).unlink()
    recompute_manifests(package)
    files, entries = named(package)
    assert paths.envelope_path(LAST) in files
    assert LAST in entries


def test_the_last_entry_dropped_with_contents_and_head_written_anew_is_named(intact, tmp_path):
    package = copy_of(intact, tmp_path / "p")
    for path in (paths.envelope_path(LAST), paths.payload_path(LAST)):
        (package / path).unlink()
    head = head_of(sealed(NEWS[:-1]))
    (package / paths.HEAD).write_bytes(sign_head(head, OTHER_KEY).document)
    recompute_manifests(package)
    rewrite_contents(package, head)
    assert {paths.CONTENTS, paths.HEAD} <= named(package)[0]


def test_two_swapped_entries_are_both_named(intact, tmp_path):
    package = copy_of(intact, tmp_path / "p")
    for where in (paths.envelope_path, paths.payload_path):
        first, second = (package / where(3)).read_bytes(), (package / where(5)).read_bytes()
        (package / where(3)).write_bytes(second)
        (package / where(5)).write_bytes(first)
    recompute_manifests(package)
    assert {3, 5} <= named(package)[1]


def test_a_doubled_entry_is_named(intact, tmp_path):
    package = copy_of(intact, tmp_path / "p")
    for where in (paths.envelope_path, paths.payload_path):
        shutil.copy(package / where(5), package / where(LAST + 1))
    recompute_manifests(package)
    assert paths.envelope_path(LAST + 1) in named(package)[0]


def test_a_photo_exchanged_under_its_name_is_named(intact, tmp_path):
    package = copy_of(intact, tmp_path / "p")
    photo = f"data/media/{packages.sha256(packages.PHOTO)}.jpg"
    (package / photo).write_bytes(packages.DRAWN)
    recompute_manifests(package)
    assert photo in named(package)[0]


def test_everything_made_anew_and_signed_with_another_key_is_named_with_the_key(tmp_path):
    forged = (*NEWS[:5], NewEntry("finding_made", {**packages.FINDING, "verdict": "seen"}), *NEWS[6:])
    package = packaged(tmp_path / "p", record_of(forged, key=OTHER_KEY), key=OTHER_KEY)
    assert check_package(package).signer == "not compared"
    assert paths.SIGNING_KEY in named(package)[0]


def test_contents_signed_anew_under_the_true_key_file_are_named(intact, tmp_path):
    package = copy_of(intact, tmp_path / "p")
    edit(package, paths.payload_path(5), lambda content: content.replace(b'"agreed"', b'"seen"'))
    recompute_manifests(package)
    rewrite_contents(package, head_of(sealed(NEWS)))
    (package / paths.CONTENTS_SIGNATURE).write_bytes(OTHER_KEY.sign((package / paths.CONTENTS).read_bytes()))
    files, entries = named(package)
    assert paths.CONTENTS in files
    assert 5 in entries


def test_contents_that_state_a_name_twice_are_named(intact, tmp_path):
    package = copy_of(intact, tmp_path / "p")
    edit(package, paths.CONTENTS, lambda content: b'{"entries":7,' + content[1:])
    assert paths.CONTENTS in named(package)[0]


def rewrite_contents(package, head):
    contents = json.loads((package / paths.CONTENTS).read_bytes())
    beside = {paths.CONTENTS, paths.CONTENTS_SIGNATURE, "tagmanifest-sha256.txt", "tagmanifest-sha512.txt"}
    contents["files"] = {
        path: {"bytes": len(content), "sha256": hashlib.sha256(content).hexdigest()}
        for path, content in files_of(package).items()
        if path not in beside
    }
    contents["head"] = {"seq": head.seq, "hash": head.hash, "time": head.time}
    contents["entries"] = head.seq + 1
    (package / paths.CONTENTS).write_bytes(canonical(contents))
    recompute_manifests(package)


@pytest.mark.outside(source="names of the BagIt conformance suite: paths outside the bag")
@pytest.mark.parametrize(
    "path",
    [
        "../../outside.txt",
        "/etc/passwd",
        "~/outside.txt",
        "data/../outside.txt",
        "data\\outside.txt",
        "C:/outside.txt",
    ],
)
def test_a_name_that_leads_out_of_a_zip_is_named_and_not_followed(zipped, tmp_path, path):
    altered = tmp_path / "p.zip"
    shutil.copy(zipped, altered)
    with zipfile.ZipFile(altered, "a") as opened:
        root = opened.namelist()[0].split("/")[0]
        opened.writestr(f"{root}/{path}", "outside")
    assert any("outside" in name or "passwd" in name for name in named(altered)[0])
    assert sorted(entry.name for entry in tmp_path.iterdir()) == ["p.zip"]


@pytest.mark.outside(
    source="names of the BagIt conformance suite: the same name twice, names that differ only in case"
)
@pytest.mark.parametrize("path", ["data/report.html", "data/REPORT.html"])
@pytest.mark.filterwarnings("ignore:Duplicate name")
def test_a_name_that_stands_twice_in_a_zip_is_named(zipped, tmp_path, path):
    altered = tmp_path / "p.zip"
    shutil.copy(zipped, altered)
    with zipfile.ZipFile(altered, "a") as opened:
        root = opened.namelist()[0].split("/")[0]
        opened.writestr(f"{root}/{path}", "another report")
    assert any(name.lower().endswith("data/report.html") for name in named(altered)[0])


@pytest.mark.outside(source="RFC 8493 section 2.1.3: a manifest lists each payload file once")
@pytest.mark.parametrize("line", [b"%s  data/report.html\n" % (b"0" * 64), b"no digest\n", b"\xef\xbb\xbf"])
def test_a_manifest_with_a_second_hash_a_broken_line_or_a_mark_is_named(intact, tmp_path, line):
    package = copy_of(intact, tmp_path / "p")
    edit(package, "manifest-sha256.txt", lambda content: line + content)
    outcome = check_package(package)
    assert "manifest-sha256.txt" in {problem.path for problem in outcome.problems}
    assert outcome.verdict == "changed"


@pytest.mark.outside(source="BagIt conformance suite v1.0/invalid: byte-order mark, blank before the colon")
@pytest.mark.parametrize("declaration", [b"\xef\xbb\xbf", b"BagIt-Version : 1.0\n"])
def test_a_declaration_that_is_not_the_two_lines_is_named(intact, tmp_path, declaration):
    package = copy_of(intact, tmp_path / "p")
    edit(package, "bagit.txt", lambda content: declaration + content)
    recompute_manifests(package)
    assert "bagit.txt" in named(package)[0]


@pytest.mark.parametrize(
    "change",
    [
        lambda content: content[:-1] + b"\x0b",
        lambda content: content.replace(b"a", b"A", 1),
        lambda content: content.replace(b"  ", b" \t", 1),
        lambda content: content + b"\n",
        lambda content: content.replace(b"  ", b" *", 1),
    ],
    ids=["vertical tab", "capital digit", "tab", "empty line", "asterisk"],
)
@pytest.mark.parametrize("name", ["manifest-sha512.txt", "tagmanifest-sha256.txt"])
def test_a_manifest_that_says_the_same_in_other_bytes_is_named(intact, tmp_path, name, change):
    package = copy_of(intact, tmp_path / "p")
    edit(package, name, change)
    assert name in named(package)[0]


def test_links_and_special_files_are_named_and_not_followed(intact, tmp_path):
    package = copy_of(intact, tmp_path / "p")
    report = (package / paths.REPORT).read_bytes()
    (tmp_path / "outside.html").write_bytes(report)
    (package / paths.REPORT).unlink()
    (package / paths.REPORT).symlink_to(tmp_path / "outside.html")
    (package / "data" / "beside").symlink_to(tmp_path, target_is_directory=True)
    assert {paths.REPORT, "data/beside"} <= named(package)[0]


def test_a_link_in_a_zip_is_named(zipped, tmp_path):
    altered = tmp_path / "p.zip"
    shutil.copy(zipped, altered)
    with zipfile.ZipFile(altered, "a") as opened:
        link = zipfile.ZipInfo(opened.namelist()[0].split("/")[0] + "/data/link")
        link.create_system, link.external_attr = 3, 0o120777 << 16
        opened.writestr(link, "/etc/passwd")
    assert "data/link" in named(altered)[0]


def test_a_zip_that_would_unpack_to_terabytes_is_refused_before_it_is_read(zipped, tmp_path, monkeypatch):
    monkeypatch.setattr("service.package.container.LARGEST_TOTAL", 10_000)
    outcome = check_package(zipped)
    assert (outcome.verdict, outcome.exit_status) == ("not-checkable", 1)
    assert "unpack to more" in outcome.problems[0].what


def test_a_document_of_boundless_size_is_not_read_whole(intact, tmp_path, monkeypatch):
    package = copy_of(intact, tmp_path / "p")
    monkeypatch.setattr("service.package.container.LARGEST_DOCUMENT", 1000)
    (package / paths.HEAD).write_bytes(b" " * 2000)
    assert paths.HEAD in named(package)[0]


def found(place) -> bool:
    try:
        return check_package(place, KEY.fingerprint).exit_status == 1
    except NotAPackageError:
        return True


@settings(max_examples=120, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(place=st.integers(0, 10**9), change=st.integers(1, 255))
def test_any_byte_changed_anywhere_in_a_zip_is_found(zipped, tmp_path, place, change):
    content = bytearray(zipped.read_bytes())
    content[place % len(content)] ^= change
    (tmp_path / "p.zip").write_bytes(content)
    assert found(tmp_path / "p.zip")


def test_any_byte_changed_in_the_listing_of_a_zip_is_found(zipped, tmp_path):
    content = zipped.read_bytes()
    listing = content.index(b"PK\1\2")
    chance = random.Random(7)  # noqa: S311 - the same alterations at every run
    for place in [*range(len(content) - 22, len(content)), *range(listing, listing + 46)]:
        altered = bytearray(content)
        altered[place] ^= chance.randrange(1, 256)
        (tmp_path / "p.zip").write_bytes(altered)
        assert found(tmp_path / "p.zip"), place


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(cut=st.integers(0, 10**9))
def test_a_zip_cut_short_anywhere_is_found(zipped, tmp_path, cut):
    content = zipped.read_bytes()
    (tmp_path / "p.zip").write_bytes(content[: cut % len(content)])
    assert found(tmp_path / "p.zip")


@pytest.mark.parametrize("added", [b"\0", b"more"])
def test_bytes_added_to_a_zip_are_found(zipped, tmp_path, added):
    for content in (added + zipped.read_bytes(), zipped.read_bytes() + added):
        (tmp_path / "p.zip").write_bytes(content)
        assert found(tmp_path / "p.zip")


def resigned(package, head=None):
    """Write contents and signatures anew with the true key, as nobody but the service could."""
    recompute_manifests(package)
    rewrite_contents(package, head or head_of(sealed(NEWS)))
    (package / paths.CONTENTS_SIGNATURE).write_bytes(KEY.sign((package / paths.CONTENTS).read_bytes()))
    recompute_manifests(package)


def test_another_chart_than_the_pinned_one_is_named_even_where_the_key_holder_signed_it(intact, tmp_path):
    package = copy_of(intact, tmp_path / "p")
    edit(package, "data/definitions/chart.yaml", lambda content: content + b"# changed\n")
    resigned(package)
    files, entries = named(package)
    assert files == {"data/definitions/chart.yaml"}
    assert entries == {0}


def test_a_pinned_definition_and_a_photo_left_out_are_named_even_where_the_key_holder_signed_it(
    intact, tmp_path
):
    package = copy_of(intact, tmp_path / "p")
    (package / "data/definitions/layout.json").unlink()
    (package / f"data/media/{packages.sha256(packages.PHOTO)}.jpg").unlink()
    resigned(package)
    assert {0, 1} <= named(package)[1]


def test_a_reading_unlike_its_entry_is_named_even_where_the_key_holder_signed_it(intact, tmp_path):
    package = copy_of(intact, tmp_path / "p")
    edit(package, "data/readings/00003.json", lambda content: content.replace(b'"closed"', b'"open"'))
    edit(package, "data/findings.json", lambda content: content.replace(b'"agreed"', b'"seen"'))
    (package / "data/hearings/00009.json").write_bytes(b"{}")
    resigned(package)
    assert named(package)[0] == {"data/readings/00003.json", "data/findings.json", "data/hearings/00009.json"}
