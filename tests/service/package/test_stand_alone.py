"""The check in a package runs on a bare Python, and changes nothing in the package."""

import ast
import json
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

import service
from service.package.stand_alone import MODULES, stand_alone_files
from tests.service.journal.journals import KEY, OTHER_KEY
from tests.service.package.packages import files_of, packaged

SOURCE = Path(service.__file__).parents[1]
ROOT_NAMES = {"service", "vision", "speech"}


def imported(module: Path) -> set[str]:
    names = set()
    for node in ast.walk(ast.parse(module.read_text())):
        if isinstance(node, ast.Import):
            names |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            names |= {node.module, *(f"{node.module}.{alias.name}" for alias in node.names)}
    return names


def modules_needed(start: str) -> tuple[set[str], set[str]]:
    """Return the files of ours that a module needs, and the names of all others that it imports."""
    ours, foreign, pending = set(), set(), [start]
    while pending:
        file = pending.pop()
        if file in ours:
            continue
        ours.add(file)
        pending += [f"{parent}/__init__.py" for parent in Path(file).parents if str(parent) != "."]
        for name in imported(SOURCE / file):
            parts = name.split(".")
            if parts[0] not in ROOT_NAMES:
                foreign.add(parts[0])
            elif (SOURCE / Path(*parts)).with_suffix(".py").is_file():
                pending.append(str(Path(*parts).with_suffix(".py")))
            elif (SOURCE / Path(*parts) / "__init__.py").is_file():
                pending.append(str(Path(*parts, "__init__.py")))
    return ours, foreign


def run_bare(script: Path, *arguments: str) -> subprocess.CompletedProcess:
    """Run a script on a Python without any installed package and without this checkout."""
    command = [sys.executable, "-I", "-S", str(script), *arguments]
    return subprocess.run(command, capture_output=True, text=True, cwd="/", check=False)


def test_the_list_of_modules_is_what_the_check_imports_and_nothing_is_foreign():
    ours, foreign = modules_needed("service/package/check_door.py")
    assert set(MODULES) == ours
    assert foreign <= set(sys.stdlib_module_names)


@pytest.mark.parametrize("key", [None, KEY.fingerprint])
def test_the_check_in_a_package_finds_it_unchanged_and_leaves_it_so(tmp_path, key):
    package = packaged(tmp_path / "p")
    before = files_of(package)
    for _ in range(2):
        done = run_bare(package / "check.py", "--json", *(["--key", key] if key else []))
        assert (done.returncode, done.stderr) == (0, "")
        signer = "known" if key else "not compared"
        assert json.loads(done.stdout) == {"verdict": "unchanged", "signer": signer, "problems": []}
    assert files_of(package) == before


def test_the_check_of_one_package_checks_another(tmp_path):
    mine, other = packaged(tmp_path / "mine"), packaged(tmp_path / "other", key=OTHER_KEY)
    done = run_bare(mine / "check.py", str(other), "--key", KEY.fingerprint)
    assert done.returncode == 1
    assert "signed with another key" in done.stdout


def test_the_check_in_a_package_names_a_change(tmp_path):
    package = packaged(tmp_path / "p")
    (package / "data" / "report.html").write_text("another report")
    done = run_bare(package / "check.py")
    assert done.returncode == 1
    assert "data/report.html: The file is changed" in done.stdout


def test_the_check_is_in_the_package_as_it_is_in_the_program(tmp_path):
    files = files_of(packaged(tmp_path / "p"))
    for path, content in stand_alone_files().items():
        assert files[path] == content


@pytest.mark.outside(source="OpenSSL 3 and coreutils sha256sum, as HOW_TO_CHECK.txt names them")
@pytest.mark.skipif(shutil.which("openssl") is None, reason="OpenSSL is not installed on this machine")
def test_the_commands_of_the_leaflet_accept_the_package_and_refuse_an_altered_one(tmp_path):
    package = packaged(tmp_path / "p")
    leaflet = (package / "HOW_TO_CHECK.txt").read_text()
    commands = [
        line.strip()
        for line in leaflet.splitlines()
        if line.startswith(("    openssl pkeyutl", "    sha256sum"))
    ]
    assert len(commands) == 3
    for command in commands:
        done = subprocess.run(command.split(), cwd=package, capture_output=True, check=False)
        assert done.returncode == 0, (command, done)
    for path in ("contents.json", "data/head.json", "data/report.html"):
        (package / path).write_bytes((package / path).read_bytes() + b" ")
    for command in commands:
        assert subprocess.run(command.split(), cwd=package, capture_output=True, check=False).returncode != 0
