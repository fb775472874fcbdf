"""A newcomer's machine: the wheel in a bare environment, far from the checkout, runs the main job."""

import json
import subprocess
import sys
import venv
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
pytestmark = [pytest.mark.install, pytest.mark.timeout(900), pytest.mark.enable_socket]


def run(command: list[str | Path], folder: Path, limit_s: int = 600) -> subprocess.CompletedProcess:
    done = subprocess.run(
        [str(part) for part in command],
        cwd=folder,
        capture_output=True,
        text=True,
        timeout=limit_s,
        check=False,
    )
    assert done.returncode in {0, 1, 2}, done.stderr
    return done


@pytest.fixture(scope="module")
def bare(tmp_path_factory) -> Path:
    """The wheel, built and installed with its dependencies and nothing else."""
    place = tmp_path_factory.mktemp("bare")
    built = run([sys.executable, "-m", "pip", "wheel", "--quiet", "--no-deps", "-w", place, ROOT], place)
    assert built.returncode == 0, built.stderr
    venv.create(place / "env", with_pip=True)
    wheel = next(place.glob("limitwitness-*.whl"))
    installed = run([place / "env" / "bin" / "python", "-m", "pip", "install", "--quiet", wheel], place)
    assert installed.returncode == 0, installed.stderr
    return place


def test_the_demo_of_the_installed_wheel_goes_as_scripted_and_its_package_checks(bare):
    command = bare / "env" / "bin" / "limitwitness"
    played = run([command, "demo", "--out", bare / "out"], bare)
    assert played.returncode == 0, played.stdout[-3000:] + played.stderr
    summary = json.loads((bare / "out" / "summary.json").read_text())
    checked = run([command, "check", summary["package"], "--key", summary["key"], "--json"], bare)
    told = json.loads(checked.stdout)
    assert (checked.returncode, told["verdict"], told["signer"]) == (0, "unchanged", "known")


def test_the_installed_wheel_reads_a_photo_and_hears_a_clip(bare):
    command = bare / "env" / "bin" / "limitwitness"
    samples = ROOT / "sample_media"
    layout = samples / "jobs" / "rw-204" / "layout.json"
    read = run([command, "read", "--layout", layout, "--json", samples / "photos" / "job_005.jpg"], bare)
    assert json.loads(read.stdout)["verdict"] == "read", read.stderr
    phrases = bare / "phrases.jsonl"
    phrases.write_text(
        json.dumps(
            {"text": "tools are counted", "meaning": {"intent": "returned", "slots": {"item": "tools"}}}
        )
    )
    clip = samples / "clips" / "rw-204" / "tools_counted.ogg"
    heard = run([command, "hear", "--phrases", phrases, "--json", clip], bare)
    assert json.loads(heard.stdout)["text"] == "tools are counted", heard.stderr


def test_the_engines_import_with_only_their_own_libraries(bare):
    names = ["fastapi", "starlette", "sqlalchemy", "alembic", "pydantic", "uvicorn", "jinja2"]
    block = f"import sys; sys.modules.update(dict.fromkeys({names!r}))"
    done = run([bare / "env" / "bin" / "python", "-c", f"{block}; import vision, speech"], bare)
    assert done.returncode == 0, done.stderr
