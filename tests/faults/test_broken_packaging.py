"""Writing a package breaks at every step: nothing half-made is left, and the next try succeeds."""

import errno
import os
import subprocess
import sys
from pathlib import Path

import pytest

from service.package.build import build_package
from service.package.check import check_package
from tests.service.journal.journals import KEY
from tests.service.package.packages import files_of, packaged, read_media, record_of


@pytest.mark.parametrize("broken", [0, 1, 7, 20, 33, 40, 47, 50, 52])
@pytest.mark.parametrize("name", ["package", "package.zip"])
def test_a_disk_that_fills_up_at_any_write_leaves_nothing_behind(tmp_path, monkeypatch, name, broken):
    written = iter(range(10_000))
    whole = Path.write_bytes

    def write_bytes(place, content):
        if next(written) == broken:
            whole(place, content[: len(content) // 2])
            raise OSError(errno.ENOSPC, "No space left on device")
        return whole(place, content)

    with monkeypatch.context() as patched:
        patched.setattr(Path, "write_bytes", write_bytes)
        with pytest.raises(OSError, match="No space left"):
            packaged(tmp_path / name)
    assert list(tmp_path.iterdir()) == []
    assert check_package(packaged(tmp_path / name)).verdict == "unchanged"


def test_the_writes_that_are_broken_above_are_fewer_than_there_are(tmp_path):
    assert len(files_of(packaged(tmp_path / "p"))) > 52


def test_a_disk_that_fills_up_while_the_zip_is_written_leaves_nothing_behind(tmp_path, monkeypatch):
    def full(handle):
        raise OSError(errno.ENOSPC, "No space left on device")

    with monkeypatch.context() as patched:
        patched.setattr(os, "fsync", full)
        with pytest.raises(OSError, match="No space left"):
            packaged(tmp_path / "package.zip")
    assert list(tmp_path.iterdir()) == []


def test_a_process_killed_on_the_way_leaves_no_package_and_the_next_one_is_whole(tmp_path):
    script = (
        "import os, sys; from pathlib import Path; from tests.service.package import packages as p;"
        "from tests.service.journal.journals import KEY; from service.package.build import build_package;"
        "build_package(p.record_of(), lambda digest: os.kill(os.getpid(), 9), KEY, Path(sys.argv[1]))"
    )
    root = Path(__file__).parents[2]
    done = subprocess.run([sys.executable, "-c", script, tmp_path / "p.zip"], cwd=root, check=False)
    assert done.returncode == -9
    assert not (tmp_path / "p.zip").exists()
    package = build_package(record_of(), read_media, KEY, tmp_path / "p.zip")
    assert check_package(package, KEY.fingerprint).exit_status == 0
