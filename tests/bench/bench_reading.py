"""Reads every photo of a folder and prints what came out, disturbance by disturbance and layout by layout.

    python tests/bench/bench_reading.py --photos DIR [--layouts DIR] [--worst N] [--annotate DIR]

DIR holds the photos and `truth.jsonl`; the layouts lie beside it as LAYOUT/layout.json unless told otherwise. Nothing
is asserted here. Speed is printed as a ratio to cv2.imdecode of the same files in the same run.
"""

import argparse
import json
import sys
import time
from collections import Counter, defaultdict
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import cv2
import numpy as np

from vision import Reader, Reading, annotate, load_layout

STRONG_K1, WEAK_K1 = 0.06, 0.04


def state_of(bar: dict[str, Any]) -> str:
    """True state of a bar: along, across or between."""
    off = bar["off_finger_axis_deg"]
    return "along" if off <= 12 else "across" if off >= 78 else "between"


@dataclass
class Tally:
    """Counts of one group of photos."""

    readable: int = 0
    called: int = 0
    wrong: int = 0
    contacts: int = 0
    contacts_called: int = 0
    contacts_wrong: int = 0
    errors: list[tuple[float, float]] = field(default_factory=list)

    def line(self, name: str) -> str:
        """One row of the table."""
        share = 100 * self.called / max(self.readable, 1)
        known = 100 * self.contacts_called / max(self.contacts, 1)
        figures = np.array(self.errors).reshape(-1, 2)
        rms = float(np.sqrt((figures[:, 0] ** 2).mean())) if len(figures) else float("nan")
        inside = float((abs(figures[:, 0]) < 2 * figures[:, 1]).mean()) if len(figures) else float("nan")
        return (
            f"{name:34s} {self.called:4d} of {self.readable:4d} {share:5.1f} %  contacts {known:5.1f} %  "
            f"wrong {self.wrong + self.contacts_wrong}  rms {rms:4.2f}  in 2 sigma {inside:5.3f}"
        )


@dataclass
class Outcome:
    """Everything that was counted over a folder."""

    groups: dict[str, Tally] = field(default_factory=lambda: defaultdict(Tally))
    confusion: Counter = field(default_factory=Counter)
    special: Counter = field(default_factory=Counter)
    refused_for: Counter = field(default_factory=Counter)
    worst: list[tuple[float, str]] = field(default_factory=list)
    times: dict[str, list[tuple[float, float]]] = field(default_factory=lambda: defaultdict(list))


def groups_of(photo: dict[str, Any]) -> list[str]:
    """Names of the groups that a photo counts in."""
    tags = "with tags" if photo["tags_present"] else "without tags"
    k1 = abs((photo.get("distortion") or {}).get("k1", 0.0))
    lens = ["strong distortion"] if k1 >= STRONG_K1 else ["weak distortion"] if k1 <= WEAK_K1 else []
    return ["all", tags, f"{photo['layout']} {tags}", f"class {photo['class']}", *lens]


def count(photo: dict[str, Any], reading: Reading, out: Outcome) -> None:
    """Add one photo to the tallies."""
    seen = {(bar.rotor, bar.bar): bar for bar in reading.bars}
    reasons = {rotor.id: rotor.reason for rotor in reading.rotors}
    places = {rotor["rotor"]: rotor["position"] for rotor in photo["rotors"]}
    lost, big = 0, 0.0
    for bar in photo["bars"]:
        found = seen.get((bar["rotor"], bar["bar"]))
        said, true = (found.state if found else "unreadable"), state_of(bar)
        legal = places[bar["rotor"]] in ("upper_closed", "lower_closed")
        called = said in ("along", "across")
        known = {c: reading.contacts.get(c, "unknown") for c in bar["contacts"]}
        out.confusion[true if legal else f"{places[bar['rotor']]} ({true})", said] += 1
        wrong_contacts = sum(
            s != "unknown" and (s != bar["contacts"][c] or not legal) for c, s in known.items()
        )
        if not bar["readable"]:
            kind = "border" if bar["border"] else "unreadable"
            out.special[f"{kind} bars {'called' if called else 'left'}"] += 1
        for tally in (out.groups[name] for name in groups_of(photo)):
            tally.wrong += called and said != true
            tally.contacts_wrong += wrong_contacts
            if bar["readable"] and legal:
                tally.readable += 1
                tally.called += called and said == true
                tally.contacts += len(known)
                tally.contacts_called += sum(s != "unknown" for s in known.values())
                if called and found.angle_deg is not None:
                    error = (found.angle_deg - bar["angle_deg"] + 90) % 180 - 90
                    tally.errors.append((error, found.sigma_deg))
        if bar["readable"] and legal and not called:
            lost += 1
            out.refused_for[reasons.get(bar["rotor"], reading.reason).replace(bar["rotor"], "the rotor")] += 1
        if called and found.angle_deg is not None:
            big = max(big, abs((found.angle_deg - bar["angle_deg"] + 90) % 180 - 90))
    out.worst.append(
        (
            lost + big / 10,
            f"{photo['file']}: {lost} readable bars not called, largest error {big:.1f} degrees",
        )
    )


def run(folder: Path, layouts: Path, pictures: Path | None) -> Outcome:
    """Read a folder."""
    readers: dict[str, Reader] = {}
    out = Outcome()
    for line in (folder / "truth.jsonl").read_text().splitlines():
        photo = json.loads(line)
        names = (
            [photo["layout"]]
            if photo["layout"]
            else sorted(p.parent.name for p in layouts.glob("*/layout.json"))
        )
        content = (folder / photo["file"]).read_bytes()
        for name in names:
            if name not in readers:
                readers[name] = Reader(load_layout(layouts / name / "layout.json"))
                readers[name].prepare()
            reading = readers[name].read(content, photo["file"])
            began = time.perf_counter()
            cv2.imdecode(np.frombuffer(content, np.uint8), cv2.IMREAD_COLOR)
            plain = (time.perf_counter() - began) * 1e3
            out.times["tags" if reading.method == "tags" else "without three tags"].append(
                (reading.total_ms, plain)
            )
            if pictures is not None:
                pictures.mkdir(parents=True, exist_ok=True)
                (pictures / photo["file"]).write_bytes(annotate(content, reading, readers[name].layout))
            if photo["layout"]:
                count(photo, reading, out)
            else:
                out.special[f"foreign photos {reading.verdict}"] += 1
                continue
            mirrored = cv2.imdecode(np.frombuffer(content, np.uint8), cv2.IMREAD_COLOR)[:, ::-1]
            coded = cv2.imencode(".jpg", np.ascontiguousarray(mirrored), [cv2.IMWRITE_JPEG_QUALITY, 92])[
                1
            ].tobytes()
            out.special[f"mirrored photos {readers[name].read(coded).verdict}"] += 1
    return out


def show(out: Outcome, worst: int) -> None:
    """Print the tables."""
    for name in sorted(out.groups, key=lambda n: (n.startswith("class"), n)):
        print(out.groups[name].line(name))
    wrong = out.groups["all"].wrong
    called = out.groups["all"].called + wrong
    # Exact one-sided bound for no event in n trials: 1 - 0.05 ** (1 / n).
    bound = 100 * (1 - 0.05 ** (1 / max(called, 1))) if wrong == 0 else float("nan")
    print(f"\nwrong among called: {wrong} of {called}; upper 95 % bound {bound:.2f} %")
    for name, number in sorted(out.special.items()):
        print(f"{name}: {number}")
    print("\ntrue state -> read as")
    for (true, said), number in sorted(out.confusion.items()):
        print(f"  {true:26s} {said:12s} {number}")
    print("\nreadable bars not called, by reason")
    for reason, number in out.refused_for.most_common():
        print(f"  {number:4d}  {reason}")
    print("\nms a photo, median and most; ratio to cv2.imdecode of the same photos")
    for name, pairs in out.times.items():
        both = np.array(pairs)
        ratio = both[:, 0].sum() / both[:, 1].sum()
        print(f"  {name:20s} {np.median(both[:, 0]):7.0f} {both[:, 0].max():7.0f}   {ratio:.1f}")
    print("\nworst photos")
    for _, text in sorted(out.worst, reverse=True)[:worst]:
        print(f"  {text}")


def main() -> int:
    """Run from the command line."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--photos", type=Path, required=True)
    parser.add_argument("--layouts", type=Path)
    parser.add_argument("--worst", type=int, default=5)
    parser.add_argument("--annotate", type=Path)
    options = parser.parse_args()
    cv2.setNumThreads(1)
    show(run(options.photos, options.layouts or options.photos.parent, options.annotate), options.worst)
    return 0


if __name__ == "__main__":
    sys.exit(main())
