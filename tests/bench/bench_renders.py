"""Reads photos of invented switches that the own renderer paints, and prints the reader's table on them.

    OMP_NUM_THREADS=1 python -m tests.bench.bench_renders --out DIR [--first 7000] [--layouts 24] [--photos 6]
        [--minutes M] [--only tags|none]

Layouts and photos are drawn from seeds: the same numbers give the same photos. What DIR holds already is not painted
again. With `--minutes` photos are read in a drawn order until that time is over: a fair sample.
Nothing is asserted here. Figures count as independent only for seeds that nothing was looked at or chosen by.
"""

import argparse
import json
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import cv2
import numpy as np

from tests.bench.bench_reading import Outcome, count, show, state_of
from vision import Layout, Reader, load_layout
from vision.calibrate import invent, invented_plan
from vision.camera import Camera
from vision.render import BarTruth, render
from vision.scenes import KINDS, as_bytes, random_scene

_FIRST_SCENE = 5000  # photos of the bench are numbered from here on within a layout's 10,000 scenes


def main() -> int:
    """Run from the command line."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--first", type=int, default=7000)
    parser.add_argument("--layouts", type=int, default=24)
    parser.add_argument("--photos", type=int, default=6)
    parser.add_argument("--minutes", type=float)
    parser.add_argument("--only", choices=("tags", "none", "both"), default="both")
    parser.add_argument("--worst", type=int, default=5)
    options = parser.parse_args()
    cv2.setNumThreads(1)
    seeds = range(options.first, options.first + options.layouts)
    photos = [photo for seed in seeds for photo in paint(options.out, seed, options.photos)]
    if options.only != "both":
        photos = [photo for photo in photos if photo["tags_present"] == (options.only == "tags")]
    order = np.random.default_rng(options.first).permutation(len(photos))
    read(options.out, [photos[i] for i in order], options.minutes, options.worst)
    return 0


def paint(folder: Path, seed: int, number: int) -> Iterator[dict[str, Any]]:
    """Paint one layout's photos, where they do not lie in the folder yet; the truth of each."""
    home = folder / f"L{seed}"
    wanted = [home / f"{k:03d}.json" for k in range(number)]
    if not all(path.exists() for path in wanted):
        home.mkdir(parents=True, exist_ok=True)
        layout, look = invent(seed)
        (home / "layout.json").write_bytes(_described(layout, seed))
        assert layout.reference is not None
        (home / "reference.jpg").write_bytes(layout.reference.photo)
        for k, path in enumerate(wanted):
            chance = seed * 10_000 + _FIRST_SCENE + k
            scene = random_scene(layout, look, chance)
            seen = render(scene)
            kind = str(np.random.default_rng(chance).choice(KINDS))  # the scene's first draw
            path.with_suffix(".jpg").write_bytes(seen.photo)
            truth = _truth(layout, scene.camera, seen.bars)
            path.write_text(json.dumps({**truth, "class": kind, "tags_present": scene.tags}))
    for path in wanted:
        yield {"file": f"L{seed}/{path.stem}.jpg", "home": home.name, **json.loads(path.read_text())}


def _described(layout: Layout, seed: int) -> bytes:
    """The layout's file, its reference photo beside it."""
    assert layout.reference is not None
    return as_bytes(
        {
            **invented_plan(seed),
            "id": f"L{seed}",
            "reference_photo": "reference.jpg",
            "reference_homography_plan_to_px": layout.reference.plan_to_px.tolist(),
            "reference_image_size": [1280, 960],
        }
    )


def _truth(layout: Layout, camera: Camera, bars: tuple[BarTruth, ...]) -> dict[str, Any]:
    """What the reader's bench wants to know of a photo."""
    rows, angles = [], {(bar.rotor, bar.bar): bar for bar in bars}
    for bar in bars:
        plan = layout.rotor(bar.rotor)
        contacts = (plan.upper if bar.bar == "upper" else plan.lower).contacts
        rows.append(
            {
                "rotor": bar.rotor,
                "bar": bar.bar,
                "angle_deg": bar.angle_deg,
                "off_finger_axis_deg": bar.off_axis_deg,
                "readable": bar.readable,
                "border": False,
                "contacts": {
                    c.id: "closed" if (bar.state == "along") == (c.along_means == "closed") else "open"
                    for c in contacts
                },
            }
        )
    return {
        "layout": "with marks" if layout.way_up_marks else "without marks",
        "bars": rows,
        "rotors": [
            {"rotor": r.id, "position": _position(angles[r.id, "upper"], angles[r.id, "lower"])}
            for r in layout.rotors
        ],
        "distortion": {"k1": camera.k1},
    }


def _position(upper: BarTruth, lower: BarTruth) -> str:
    if abs((upper.angle_deg - lower.angle_deg) % 180 - 90) > 10:
        return "contradiction"
    states = (upper.state, lower.state)
    return {("along", "across"): "upper_closed", ("across", "along"): "lower_closed"}.get(states, "between")


def read(folder: Path, photos: list[dict[str, Any]], minutes: float | None, worst: int) -> None:
    """Read photos until the time is over, and print the tables."""
    out, readers, began, done = Outcome(), {}, time.monotonic(), 0
    for photo in photos:
        if minutes is not None and time.monotonic() - began > 60 * minutes:
            break
        if photo["home"] not in readers:
            readers[photo["home"]] = Reader(load_layout(folder / photo["home"] / "layout.json"))
            readers[photo["home"]].prepare()
        content = (folder / photo["file"]).read_bytes()
        reading = readers[photo["home"]].read(content, photo["file"])
        started = time.perf_counter()
        cv2.imdecode(np.frombuffer(content, np.uint8), cv2.IMREAD_COLOR)
        plain = (time.perf_counter() - started) * 1e3
        out.times["tags" if reading.method == "tags" else "without three tags"].append(
            (reading.total_ms, plain)
        )
        before = out.groups["all"].wrong + out.groups["all"].contacts_wrong
        count(photo, reading, out, {})
        if out.groups["all"].wrong + out.groups["all"].contacts_wrong > before:
            print(f"WRONG in {photo['file']}: {[(b.rotor, b.bar, b.state) for b in reading.bars]}")
            print(f"  true: {[(b['rotor'], b['bar'], state_of(b)) for b in photo['bars']]}")
        done += 1
    print(f"{done} of {len(photos)} photos read")
    show(out, worst)


if __name__ == "__main__":
    sys.exit(main())
