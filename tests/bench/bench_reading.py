"""Reads every photo of a folder and prints what came out, disturbance by disturbance and layout by layout.

    python -m tests.bench.bench_reading --photos DIR [--layouts DIR] [--worst N] [--annotate DIR]
    OMP_NUM_THREADS=1 python -m tests.bench.bench_reading --speed

DIR holds the photos and `truth.jsonl`; the layouts lie beside it as LAYOUT/layout.json unless told otherwise.
`--annotate` writes the worst photos, each with what was measured on it, and `reliability.png`. `--speed` reads own
renders enlarged to 12 megapixels. Nothing is asserted here. Speed is printed as a ratio to cv2.imdecode of the same
files in the same run.
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

from tests.bench.reading_figures import confusion_table, reliability_picture, upper_bound, wilson
from vision import Reader, Reading, annotate, load_layout

# Such a rotor may be called by nobody who sees only this photo: it makes a photo no worse than others.
NEITHER_WAY = "nothing tells which way up"
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
        wrong = self.wrong + self.contacts_wrong
        figures = np.array(self.errors).reshape(-1, 2)
        rms = float(np.sqrt((figures[:, 0] ** 2).mean())) if len(figures) else float("nan")
        inside = float((abs(figures[:, 0]) < 2 * figures[:, 1]).mean()) if len(figures) else float("nan")
        return (
            f"{name:38s} {self.called:4d} of {self.readable:4d} {share:5.1f} %  contacts {known:5.1f} %  "
            f"wrong {wrong} (under {100 * upper_bound(self.wrong, self.called + self.wrong):5.2f} %)  "
            f"rms {rms:4.2f}  in 2 sigma {inside:5.3f}"
        )


@dataclass
class Outcome:
    """Everything that was counted over a folder."""

    groups: dict[str, Tally] = field(default_factory=lambda: defaultdict(Tally))
    confusion: Counter = field(default_factory=Counter)
    special: Counter = field(default_factory=Counter)
    refused_for: Counter = field(default_factory=Counter)
    worst: list[tuple[float, str, str, Reading]] = field(default_factory=list)
    chances: list[tuple[float, bool]] = field(default_factory=list)
    times: dict[str, list[tuple[float, float]]] = field(default_factory=lambda: defaultdict(list))


def limits_of(photos: list[dict[str, Any]]) -> dict[str, float]:
    """From which strength on a disturbance counts: any, or the strongest third where nearly every photo has it."""
    strengths: dict[str, list[float]] = defaultdict(list)
    for photo in photos:
        for one in photo.get("disturbances", []):
            if isinstance(one["strength"], int | float) and one["strength"]:
                strengths[one["name"]].append(abs(one["strength"]))
    return {
        name: float(np.quantile(values, 2 / 3)) if len(values) > 0.5 * len(photos) else 0.0
        for name, values in strengths.items()
        if len(values) >= 3
    }


def groups_of(photo: dict[str, Any], limits: dict[str, float]) -> list[str]:
    """Names of the groups that a photo counts in."""
    disturbed = [
        f"with {one['name']}" + (f" from {limits[one['name']]:.3g}" if limits[one["name"]] else "")
        for one in photo.get("disturbances", [])
        if one["name"] in limits and one["strength"] and abs(one["strength"]) >= limits[one["name"]]
    ]
    tags = "with tags" if photo["tags_present"] else "without tags"
    k1 = abs((photo.get("distortion") or {}).get("k1", 0.0))
    lens = ["strong distortion"] if k1 >= STRONG_K1 else ["weak distortion"] if k1 <= WEAK_K1 else []
    return [
        "all",
        tags,
        f"{photo['layout']} {tags}",
        f"class {photo['class']}",
        *lens,
        *sorted(set(disturbed)),
    ]


def count(photo: dict[str, Any], reading: Reading, out: Outcome, limits: dict[str, float]) -> None:
    """Add one photo to the tallies."""
    seen = {(bar.rotor, bar.bar): bar for bar in reading.bars}
    reasons = {rotor.id: rotor.reason for rotor in reading.rotors}
    places = {rotor["rotor"]: rotor["position"] for rotor in photo["rotors"]}
    lost, forbidden, big = 0, 0, 0.0
    for bar in photo["bars"]:
        found = seen.get((bar["rotor"], bar["bar"]))
        said, true = (found.state if found else "unreadable"), state_of(bar)
        legal = places[bar["rotor"]] in ("upper_closed", "lower_closed")
        called = said in ("along", "across")
        known = {c: reading.contacts.get(c, "unknown") for c in bar["contacts"]}
        out.confusion[
            (true if legal else places[bar["rotor"]]) + ("" if bar["readable"] else ", hidden"), said
        ] += 1
        if found is not None and found.angle_deg is not None and found.p_along != 0.5:  # 0.5: withheld
            out.chances.append((found.p_along, true == "along"))
        wrong_contacts = sum(
            s != "unknown" and (s != bar["contacts"][c] or not legal) for c, s in known.items()
        )
        if not bar["readable"]:
            kind = "border" if bar["border"] else "unreadable"
            out.special[f"{kind} bars {'called' if called else 'left'}"] += 1
        for tally in (out.groups[name] for name in groups_of(photo, limits)):
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
            forbidden += NEITHER_WAY in reasons.get(bar["rotor"], "")
            out.refused_for[reasons.get(bar["rotor"], reading.reason).replace(bar["rotor"], "the rotor")] += 1
        if called and found.angle_deg is not None:
            big = max(big, abs((found.angle_deg - bar["angle_deg"] + 90) % 180 - 90))
    out.worst.append(
        (
            lost - forbidden + big / 10,
            f"{photo['file']}: {lost} readable bars not called, largest error {big:.1f} degrees",
            photo["file"],
            reading,
        )
    )


def run(folder: Path, layouts: Path, readers: dict[str, Reader]) -> Outcome:
    """Read a folder."""
    out = Outcome()
    photos = [json.loads(line) for line in (folder / "truth.jsonl").read_text().splitlines()]
    limits = limits_of(photos)
    for photo in photos:
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
            if photo["layout"]:
                count(photo, reading, out, limits)
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
    for name in sorted(out.groups, key=lambda n: (n.startswith("with ") and n != "with tags", n)):
        print(out.groups[name].line(name))
    wrong = out.groups["all"].wrong
    called = sum(n for (_, said), n in out.confusion.items() if said in ("along", "across"))
    low, high = wilson(wrong, called)
    print(
        f"\nbars called wrongly: {wrong} of {called}; one-sided 95 % bound (Clopper-Pearson) "
        f"{100 * upper_bound(wrong, called):.2f} %, Wilson 95 % {100 * low:.2f} to {100 * high:.2f} %"
    )
    for name, number in sorted(out.special.items()):
        print(f"{name}: {number}")
    print("\n" + confusion_table(out.confusion))
    print("\nreadable bars not called, by reason")
    for reason, number in out.refused_for.most_common():
        print(f"  {number:4d}  {reason}")
    print("\nms a photo, median and most; ratio to cv2.imdecode of the same photos")
    for name, pairs in out.times.items():
        both = np.array(pairs)
        ratio = both[:, 0].sum() / both[:, 1].sum()
        print(f"  {name:20s} {np.median(both[:, 0]):7.0f} {both[:, 0].max():7.0f}   {ratio:.1f}")
    print("\nworst photos")
    for _, text, _, _ in worst_of(out, worst):
        print(f"  {text}")


def worst_of(out: Outcome, number: int) -> list[tuple[float, str, str, Reading]]:
    """The photos with most that was lost or off, worst first."""
    return sorted(out.worst, key=lambda one: (-one[0], one[2]))[:number]


def draw(out: Outcome, folder: Path, pictures: Path, readers: dict[str, Reader], worst: int) -> None:
    """Write the worst photos with what was measured, and the reliability diagram."""
    pictures.mkdir(parents=True, exist_ok=True)
    for number, (_, _, name, reading) in enumerate(worst_of(out, worst), 1):
        layout = next(r.layout for r in readers.values() if r.layout.id == reading.layout)
        drawn = annotate((folder / name).read_bytes(), reading, layout)
        (pictures / f"worst_{number}_{Path(name).stem}.jpg").write_bytes(drawn)
    cv2.imwrite(str(pictures / "reliability.png"), reliability_picture(out.chances))


def speed() -> None:
    """Print the time of 12-megapixel photos of own renders, with and without tags, against their decoding."""
    from tests.vision.scenery import invented, seen_from_above

    print("12-megapixel JPEG, one core: ms to read, ms of cv2.imdecode, ratio (best of 3)")
    for rotors in (3, 4):
        switch = invented(7 + rotors, rotors)
        switch.reader.prepare()
        for tags in (True, False):
            camera = seen_from_above(switch.layout, (1600, 1200), roll=20.0, tilt=10.0)
            scene = switch.photo({}, tags=tags, camera=camera, size=(1600, 1200))
            large = cv2.resize(scene.pixels, (4000, 3000), interpolation=cv2.INTER_CUBIC)
            grain = np.random.default_rng(1).normal(
                0, 3, large.shape
            )  # a sensor's own, without which JPEGs are small
            noisy = np.clip(large + grain, 0, 255).astype(np.uint8)
            for kind, pixels in (("smooth", large), ("grainy", noisy)):
                photo = cv2.imencode(".jpg", pixels, [cv2.IMWRITE_JPEG_QUALITY, 90])[1].tobytes()
                plain, whole, reading = np.inf, np.inf, None
                for _ in range(3):
                    began = time.perf_counter()
                    cv2.imdecode(np.frombuffer(photo, np.uint8), cv2.IMREAD_COLOR)
                    plain = min(plain, (time.perf_counter() - began) * 1e3)
                    reading = switch.reader.read(photo)
                    whole = min(whole, reading.total_ms)
                print(
                    f"  {rotors} rotors, {'tags' if tags else 'no tags':8s} {kind}, {len(photo) / 1e6:.1f} MB, "
                    f"{reading.method:9s} {whole:7.0f} {plain:6.0f}  {whole / plain:.1f}"
                )


def main() -> int:
    """Run from the command line."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--photos", type=Path)
    parser.add_argument("--layouts", type=Path)
    parser.add_argument("--worst", type=int, default=5)
    parser.add_argument("--annotate", type=Path)
    parser.add_argument("--speed", action="store_true")
    options = parser.parse_args()
    cv2.setNumThreads(1)
    if options.speed:
        speed()
    if options.photos is not None:
        readers: dict[str, Reader] = {}
        out = run(options.photos, options.layouts or options.photos.parent, readers)
        show(out, options.worst)
        if options.annotate is not None:
            draw(out, options.photos, options.annotate, readers, options.worst)
    return 0


if __name__ == "__main__":
    sys.exit(main())
