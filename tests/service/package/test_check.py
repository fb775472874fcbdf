"""The check of a package: what is unchanged, who signed, what is named, and what is no package at all."""

import json
import zipfile

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.domain.entries import KINDS, NewEntry
from service.package import paths
from service.package.check import NotAPackageError, check_package
from tests.service.journal.journals import KEY, OTHER_KEY
from tests.service.package import packages
from tests.service.package.packages import files_of, packaged, recompute_manifests, record_of

FORMS = pytest.mark.parametrize("name", ["package", "package.zip"])


def what(outcome, path=None):
    return [problem.what for problem in outcome.problems if path is None or problem.path == path]


@FORMS
def test_an_intact_package_is_unchanged_and_its_signer_not_compared(tmp_path, name):
    outcome = check_package(packaged(tmp_path / name))
    assert outcome.to_json() == {"verdict": "unchanged", "signer": "not compared", "problems": []}
    assert outcome.exit_status == 0
    assert outcome.signed_with == KEY.fingerprint


@FORMS
def test_the_signer_is_known_by_the_fingerprint_that_the_caller_has(tmp_path, name):
    outcome = check_package(packaged(tmp_path / name), KEY.fingerprint)
    assert (outcome.verdict, outcome.signer, outcome.exit_status) == ("unchanged", "known", 0)


@FORMS
def test_a_package_made_anew_with_another_key_is_named_by_the_comparison(tmp_path, name):
    package = packaged(tmp_path / name, key=OTHER_KEY)
    assert check_package(package).exit_status == 0
    outcome = check_package(package, KEY.fingerprint)
    assert (outcome.signer, outcome.exit_status) == ("unknown", 1)
    assert OTHER_KEY.fingerprint in what(outcome, paths.SIGNING_KEY)[0]


def test_removed_personal_payloads_leave_a_package_unchanged(tmp_path):
    outcome = check_package(packaged(tmp_path / "p", record_of(redacted=(0, 2, 4, 6))))
    assert (outcome.verdict, outcome.problems) == ("unchanged", ())
    assert outcome.contents.redacted == (0, 2, 4, 6)


def test_a_payload_removed_after_the_signature_is_a_change(tmp_path):
    package = packaged(tmp_path / "p")
    (package / paths.payload_path(2)).unlink()
    recompute_manifests(package)
    outcome = check_package(package)
    assert outcome.verdict == "changed"
    assert {problem.entry for problem in outcome.problems} >= {2}


def test_withheld_media_are_named_and_are_no_change(tmp_path):
    without = {digest: content for digest, content in packages.STORE.items() if content != packages.CLIP}
    record = record_of()

    def some(digest):
        return without[digest] if digest in without else packages.read_media("missing")

    package = packages.build_package(record, some, KEY, tmp_path / "p")
    outcome = check_package(package)
    assert outcome.verdict == "unchanged"
    assert outcome.contents.withheld == {packages.sha256(packages.CLIP): "No media with this hash is stored."}


@pytest.mark.parametrize("content", [b"", b"no zip at all", b"{}"])
def test_a_file_that_is_no_zip_is_no_package(tmp_path, content):
    (tmp_path / "file").write_bytes(content)
    with pytest.raises(NotAPackageError):
        check_package(tmp_path / "file")


def test_nothing_and_a_folder_of_something_else_are_no_package(tmp_path):
    (tmp_path / "other").mkdir()
    (tmp_path / "other" / "letter.txt").write_text("hello")
    for place in (tmp_path / "nothing", tmp_path / "other", tmp_path):
        with pytest.raises(NotAPackageError):
            check_package(place)


def test_an_empty_zip_and_a_zip_of_something_else_are_no_package(tmp_path):
    for name, files in (("empty.zip", {}), ("other.zip", {"letter.txt": "hello"})):
        with zipfile.ZipFile(tmp_path / name, "w") as opened:
            for path, content in files.items():
                opened.writestr(path, content)
        with pytest.raises(NotAPackageError):
            check_package(tmp_path / name)


def test_a_later_form_of_contents_cannot_be_checked_and_is_said_so(tmp_path, monkeypatch):
    monkeypatch.setattr("service.package.contents.CONTENTS_VERSION", 2)
    package = packaged(tmp_path / "p")
    monkeypatch.setattr("service.package.contents.CONTENTS_VERSION", 1)
    outcome = check_package(package)
    assert (outcome.verdict, outcome.exit_status) == ("not-checkable", 1)
    assert what(outcome, paths.CONTENTS) == ["The contents have version 2; this check knows 1."]


def repack(folder, out, compression, root, changed=None):
    with zipfile.ZipFile(out, "w", compression) as opened:
        for path, content in files_of(folder).items():
            opened.writestr(root + path, (changed or {}).get(path, content))


@pytest.mark.parametrize("compression", [zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED])
@pytest.mark.parametrize("root", ["", "root/"])
def test_of_a_zip_packed_again_by_another_program_the_files_are_compared(tmp_path, compression, root):
    folder = packaged(tmp_path / "folder")
    repack(folder, tmp_path / "again.zip", compression, root)
    assert check_package(tmp_path / "again.zip").to_json()["verdict"] == "unchanged"
    changed = {paths.REPORT: b"another report"}
    repack(folder, tmp_path / "changed.zip", compression, root, changed)
    outcome = check_package(tmp_path / "changed.zip")
    assert outcome.verdict == "changed"
    assert {problem.path for problem in outcome.problems} >= {paths.REPORT}


def test_the_outcome_is_json(tmp_path):
    package = packaged(tmp_path / "p")
    (package / paths.payload_path(5)).write_bytes(b"{}")
    stated = json.loads(json.dumps(check_package(package, "0" * 64).to_json()))
    assert set(stated) == {"verdict", "signer", "problems"}
    assert all(set(problem) == {"path", "entry", "what"} for problem in stated["problems"])
    assert stated["problems"][0]["entry"] == 5


JSON = st.recursive(
    st.none()
    | st.booleans()
    | st.integers(-(2**53) + 1, 2**53 - 1)
    | st.floats(-1e9, 1e9)
    | st.text(max_size=8),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=6), inner, max_size=3),
    max_leaves=6,
)
FIELDS = st.sampled_from(
    ["media", "annotated", "pins", "what", "now", "reading", "hearing", "verdict", "step", "entry"]
)
DIGEST = st.sampled_from(["ab" * 32, packages.sha256(packages.CHART)])
NAME = st.sampled_from(["chart", "Chart", "../x", "--/x", "CON", "con", "\u00fc" * 200])
BODY = st.dictionaries(FIELDS, JSON | DIGEST | st.dictionaries(NAME, DIGEST), max_size=4)


@settings(max_examples=25, deadline=None)
@given(st.lists(st.tuples(st.sampled_from([*KINDS, "unheard_of"]), BODY), min_size=1, max_size=5))
def test_whatever_entries_hold_their_package_is_unchanged(tmp_path_factory, lines):
    record = record_of([NewEntry(kind, body) for kind, body in lines])
    outcome = check_package(packaged(tmp_path_factory.mktemp("any") / "p", record), KEY.fingerprint)
    assert outcome.to_json() == {"verdict": "unchanged", "signer": "known", "problems": []}
