"""The house keeps its shape: names, rooms and sizes that DEVELOPERS.md promises."""

import re
import subprocess
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
TOP_LEVEL = {
    "README.md",
    "DEVELOPERS.md",
    "pyproject.toml",
    "LICENSE",
    "service",
    "vision",
    "speech",
    "tests",
    "sample_media",
}
EMPTY_NAMES = {
    "utils",
    "util",
    "helpers",
    "helper",
    "common",
    "misc",
    "core",
    "base",
    "manager",
    "processor",
    "handler",
    "data",
    "info",
}
TEXT = {
    ".py",
    ".md",
    ".toml",
    ".yaml",
    ".yml",
    ".json",
    ".jsonl",
    ".html",
    ".css",
    ".js",
    ".txt",
    ".typ",
    ".sh",
}


def tracked() -> list[Path]:
    listing = subprocess.run(["git", "ls-files", "-z"], cwd=ROOT, capture_output=True, check=False)
    if listing.returncode:
        pytest.skip("not a git checkout: the house is checked where its files are tracked")
    return [Path(name) for name in listing.stdout.decode().split("\0") if name]


def test_the_top_level_holds_only_the_fixed_rooms():
    top = {path.parts[0] for path in tracked() if not path.parts[0].startswith(".")}
    assert top <= TOP_LEVEL


def test_no_module_has_a_name_that_says_nothing():
    modules = [path for path in tracked() if path.suffix == ".py"]
    assert [str(path) for path in modules if path.stem in EMPTY_NAMES or EMPTY_NAMES & set(path.parts)] == []


def test_no_module_is_longer_than_one_thought():
    sources = [p for p in tracked() if p.suffix == ".py" and p.parts[0] in {"service", "vision", "speech"}]
    long = {str(p): n for p in sources if (n := len((ROOT / p).read_text().splitlines())) > 400}
    assert long == {}


def test_the_repository_stays_under_25_megabytes():
    assert sum((ROOT / path).stat().st_size for path in tracked()) < 25_000_000


def test_no_file_names_a_path_of_one_machine():
    paths = re.compile(r"(?<![\w.}])/(?:home|root|work|farm|opt)/[a-z]")
    hits = [
        str(path)
        for path in tracked()
        if path.suffix in TEXT
        and path.name != "test_house.py"
        and paths.search((ROOT / path).read_text(errors="ignore"))
    ]
    assert hits == []
