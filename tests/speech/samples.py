"""Where the sample clips of hearing lie, and their lines in the manifest."""

import json
from pathlib import Path

SAMPLES = Path(__file__).parents[2] / "sample_media"
CLIPS = SAMPLES / "clips" / "hearing"


def sample_lines():
    lines = (SAMPLES / "MANIFEST.jsonl").read_text(encoding="utf-8").splitlines()
    return [
        line
        for line in map(json.loads, lines)
        if line["file"].startswith("clips/hearing/") and line["file"].endswith(".ogg")
    ]
