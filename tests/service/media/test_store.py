import hashlib
import os
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.domain.refusals import Conflict, NotFound, TooBusy
from service.media.store import LocalMediaStore


@pytest.fixture
def store(tmp_path):
    return LocalMediaStore(tmp_path / "media")


def test_bytes_come_back_under_their_hash(store):
    sha256 = store.put(b"a photo")
    assert sha256 == hashlib.sha256(b"a photo").hexdigest()
    assert store.get(sha256) == b"a photo"
    assert store.has(sha256)


def test_the_same_bytes_twice_are_one_file(store, tmp_path):
    assert store.put(b"x") == store.put(b"x")
    assert len([file for file in (tmp_path / "media").rglob("*") if file.is_file()]) == 1


def test_changed_bytes_are_named_and_not_served(store, tmp_path):
    sha256 = store.put(b"evidence")
    (tmp_path / "media" / sha256[:2] / sha256).write_bytes(b"evidenxe")
    with pytest.raises(Conflict, match="changed since they were recorded"):
        store.get(sha256)


@given(name=st.text(max_size=70))
def test_no_name_but_a_hash_reaches_the_folder(tmp_path_factory, name):
    store = LocalMediaStore(tmp_path_factory.getbasetemp() / "names")
    with pytest.raises(NotFound):
        store.get(name)


def test_below_the_disk_floor_nothing_is_taken_and_the_refusal_says_when_to_come_again(tmp_path):
    with pytest.raises(TooBusy, match="nearly full") as refused:
        LocalMediaStore(tmp_path / "media", floor_bytes=1 << 60).put(b"x")
    assert refused.value.retry_after_s > 0


@pytest.mark.parametrize("call", ["fsync", "rename", "mkstemp", "write"])
def test_a_disk_that_fails_at_any_step_leaves_no_half_file(store, tmp_path, monkeypatch, call):
    def fails(*_args, **_more):
        raise OSError(28, "No space left on device")

    if call == "fsync":
        monkeypatch.setattr(os, "fsync", fails)
    elif call == "rename":
        monkeypatch.setattr(Path, "rename", fails)
    elif call == "mkstemp":
        monkeypatch.setattr("service.media.store.tempfile.mkstemp", fails)
    else:
        monkeypatch.setattr(os, "fdopen", fails)
    with pytest.raises(TooBusy, match="nothing of this file was kept"):
        store.put(b"evidence")
    monkeypatch.undo()
    assert [file for file in (tmp_path / "media").rglob("*") if file.is_file()] == []
    assert store.get(store.put(b"evidence")) == b"evidence"


def test_the_folder_is_synced_after_the_rename(store, monkeypatch):
    done = []
    real_fsync, real_rename = os.fsync, Path.rename
    monkeypatch.setattr(os, "fsync", lambda handle: (done.append("fsync"), real_fsync(handle)))
    monkeypatch.setattr(Path, "rename", lambda self, to: (done.append("rename"), real_rename(self, to)))
    store.put(b"order")
    assert done == ["fsync", "fsync", "rename", "fsync"], "new folder, file, its name, folder again"


def test_what_a_killed_writer_left_is_swept_away_once_it_is_old(store, tmp_path):
    kept = store.put(b"evidence")
    folder = tmp_path / "media" / kept[:2]
    old, young = folder / ".part-old", folder / ".part-young"
    for file in (old, young):
        file.write_bytes(b"half")
    os.utime(old, (0, 0))
    assert store.sweep() == 1
    assert (old.exists(), young.exists()) == (False, True)
    assert store.get(kept) == b"evidence"
