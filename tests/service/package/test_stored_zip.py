"""Zips in one exact form: read by others, the same for the same files, in the order of their names."""

import io
import shutil
import subprocess
import zipfile

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.package.stored_zip import part_of, zip_chunks

NAMES = st.text(st.characters(codec="utf-8", exclude_characters="\0\\/"), min_size=1, max_size=12)


def zipped(files: dict[str, bytes]) -> bytes:
    parts = [
        part_of(name, lambda content=content: [content[:3], content[3:]]) for name, content in files.items()
    ]
    return b"".join(zip_chunks(parts))


@pytest.mark.outside(source="Python's zipfile as a second reader of the zip format")
@given(st.dictionaries(NAMES, st.binary(max_size=200), max_size=8))
def test_another_reader_finds_the_same_files(files):
    with zipfile.ZipFile(io.BytesIO(zipped(files))) as opened:
        assert opened.testzip() is None
        assert {name: opened.read(name) for name in opened.namelist()} == files


@pytest.mark.outside(source="Info-ZIP unzip as a second reader of the zip format")
@pytest.mark.skipif(shutil.which("unzip") is None, reason="unzip is not installed on this machine")
def test_unzip_finds_no_fault(tmp_path):
    (tmp_path / "a.zip").write_bytes(zipped({"root/a.txt": b"hello", "root/b/ü.bin": bytes(range(256))}))
    done = subprocess.run(["unzip", "-tqq", tmp_path / "a.zip"], capture_output=True, check=False)
    assert (done.returncode, done.stdout, done.stderr) == (0, b"", b"")


def test_the_order_in_which_files_are_given_changes_no_byte():
    assert zipped({"b": b"2", "a": b"1"}) == zipped({"a": b"1", "b": b"2"})


def test_times_and_attributes_are_fixed():
    with zipfile.ZipFile(io.BytesIO(zipped({"a": b"1"}))) as opened:
        (info,) = opened.infolist()
    assert (info.date_time, info.compress_type, info.external_attr >> 16) == (
        (1980, 1, 1, 0, 0, 0),
        0,
        0o100644,
    )


def test_more_than_the_form_can_hold_is_refused(monkeypatch):
    monkeypatch.setattr("service.package.stored_zip.LARGEST", 100)
    with pytest.raises(OverflowError):
        zipped({"a": b"1" * 200})
