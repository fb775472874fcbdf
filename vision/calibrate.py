"""Fits the calibration table on rendered photos: `python -m vision.calibrate --table T.json --diagram D.png`.

1. Random layouts are invented and photographed by the renderer, each photo under another camera, lamp and mishap.
2. Every photo is registered and every rotor in view measured as the reader does it.
3. Trust in an angle (right within 8 degrees) is fitted on rotors that lie where they were placed; whether a bar is
   seen is fitted on the renderer's own measure of what can be seen; sigma is fitted on bars that are trusted.
4. Each layout is predicted by a fit that left it out; the reliability diagram shows those predictions.

No photo that a figure of quality is taken from is used here.
"""

import argparse
import json
import sys
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import numpy.typing as npt
import scipy.optimize

from vision.angles import signed
from vision.camera import from_similarity
from vision.canvas import Light
from vision.evidence import Evidence, examine
from vision.features import (
    SEEN_FIGURES,
    TRUST_FIGURES,
    disagreement_deg,
    incoherence,
    seen_figures,
    trust_figures,
)
from vision.layout import Layout
from vision.layout_file import load_layout
from vision.phone import Exposure
from vision.registration import NotFound, Registrar
from vision.render import BarTruth, layout_with_reference, render
from vision.scenes import Look, as_bytes, random_layout, random_look, random_scene

Floats = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]

RIGHT_WITHIN_DEG, PLACED_WITHIN_MM = 8.0, 2.0
_RIDGE = 1.0  # of the logistic fits; the figures are standardised
_TRUSTED = 0.95


@dataclass(frozen=True)
class Row:
    """One bar of one rendered photo: its figures, its truth, and which layout it came from."""

    layout: int
    bar: str
    trust: Floats
    seen: Floats
    error_deg: float
    disagreement_deg: float
    incoherence: float
    off_place_mm: float
    readable: bool


def invented_plan(seed: int) -> dict[str, Any]:
    """Describe an invented layout as its file does, without reference; every fifth has no way-up marks."""
    return random_layout(seed, marks=seed % 5 != 0)


def invent(seed: int) -> tuple[Layout, Look]:
    """Invent a layout with its reference photo."""
    described, look = invented_plan(seed), random_look(seed)
    bare = load_layout(as_bytes(described))
    scale = min(1150 / bare.plan_size_mm[0], 860 / bare.plan_size_mm[1], 6.0)
    level = from_similarity((1280, 960), 0.0, scale, np.array([639.5, 479.5]), bare.middle_mm)
    high = np.array([0.0, 0.0, 9000.0 / scale])
    camera = replace(level, f_px=9000.0, tvec=high - level.rotation @ bare.middle_mm)
    plain = replace(
        random_scene(bare, look, seed * 1000 + 1, "legal", tags=False),
        camera=camera,
        size=(1280, 960),
        shot=Exposure(noise=0.004),
        torch=(0.5, 0.5, 0.2),
        light=Light(np.array([0.3, -0.3]), 0.3, 0.6),
        unit=0,
    )
    seen = render(plain)
    return load_layout(as_bytes(layout_with_reference(described, plain)), seen.photo), look


def gather(seed: int, photos: int) -> list[Row]:
    """Render and measure photos of one invented layout."""
    layout, look = invent(seed)
    registrar = Registrar(layout)
    rows: list[Row] = []
    for number in range(photos):
        scene = random_scene(layout, look, seed * 10_000 + number)
        seen = render(scene)
        pixels = np.asarray(cv2.imdecode(np.frombuffer(seen.photo, np.uint8), cv2.IMREAD_COLOR), np.uint8)
        found = registrar.register(pixels)
        if isinstance(found, NotFound):
            continue
        truth = {(bar.rotor, bar.bar): bar for bar in seen.bars}
        for rotor in layout.rotors:
            evidence = examine(pixels, found.camera, rotor, found.method)
            if isinstance(evidence, Evidence):
                middle = np.array([[*rotor.centre_mm, 0.0]])
                off = np.linalg.norm(found.camera.project(middle) - scene.camera.project(middle))
                off_mm = float(off / scene.camera.px_per_mm(middle[0]))
                pairs = ((bar, truth[rotor.id, bar]) for bar in ("upper", "lower"))
                rows += [_row(seed, bar, evidence, true, off_mm) for bar, true in pairs]
    return rows


def _row(seed: int, bar: str, evidence: Evidence, truth: BarTruth, off_mm: float) -> Row:
    measured = evidence.measure
    return Row(
        layout=seed,
        bar=bar,
        trust=trust_figures(measured, bar, evidence.circles.score),
        seen=seen_figures(measured, bar),
        error_deg=signed(evidence.bar(bar).angle_deg, truth.angle_deg),
        disagreement_deg=min(disagreement_deg(measured), 12.0),
        incoherence=incoherence(measured),
        off_place_mm=off_mm,
        readable=truth.readable,
    )


def fit_logistic(figures: Floats, outcome: Bools) -> dict[str, list[float]]:
    """Fit a ridge logistic model on standardised figures by Newton's method; the last weight is the bias."""
    mean, spread = figures.mean(axis=0), figures.std(axis=0) + 1e-6
    design = np.column_stack([(figures - mean) / spread, np.ones(len(figures))])
    weights: Floats = np.zeros(design.shape[1])
    ridge = _RIDGE * np.eye(len(weights))
    ridge[-1, -1] = 0.0
    for _ in range(30):
        p = 1 / (1 + np.exp(-design @ weights))
        curvature = (design.T * (p * (1 - p) + 1e-6)) @ design + ridge
        weights = weights + np.linalg.solve(curvature, design.T @ (outcome - p) - ridge @ weights)
    return {
        "mean": np.round(mean, 5).tolist(),
        "spread": np.round(spread, 5).tolist(),
        "weights": np.round(weights, 5).tolist(),
    }


def predict(model: dict[str, list[float]], figures: Floats) -> Floats:
    """Probabilities of a fitted model."""
    z = ((figures - model["mean"]) / np.array(model["spread"])) @ np.array(model["weights"][:-1]) + model[
        "weights"
    ][-1]
    return np.asarray(1 / (1 + np.exp(-z)))


def fit_sigma(error: Floats, disagreement: Floats, lacking: Floats) -> dict[str, float]:
    """Fit the three parts of sigma by maximum likelihood of normal errors."""

    def minus_log_likelihood(logs: Floats) -> float:
        parts = np.exp(logs)
        variance = parts[0] ** 2 + (parts[1] * disagreement) ** 2 + (parts[2] * lacking) ** 2
        return float((np.log(variance) + error**2 / variance).sum() / 2)

    best = np.exp(
        scipy.optimize.minimize(minus_log_likelihood, np.log([0.4, 0.4, 3.0]), method="Nelder-Mead").x
    )
    names = ("floor_deg", "per_disagreement", "per_incoherence")
    return {name: round(float(value), 4) for name, value in zip(names, best, strict=True)}


def table_of(rows: Sequence[Row]) -> tuple[dict[str, object], Floats, Bools]:
    """Fit the table; also return each placed bar's prediction by a fit without its layout, and if it was right."""
    placed = [row for row in rows if row.off_place_mm < PLACED_WITHIN_MM]
    figures = np.array([row.trust for row in placed])
    right = np.array([abs(row.error_deg) < RIGHT_WITHIN_DEG for row in placed])
    of = np.array([row.layout for row in placed])
    left_out: Floats = np.zeros(len(placed))
    for layout in set(of.tolist()):
        left_out[of == layout] = predict(
            fit_logistic(figures[of != layout], right[of != layout]), figures[of == layout]
        )
    trust = fit_logistic(figures, right)
    readable = np.array([row.readable for row in placed])
    used = (predict(trust, figures) > _TRUSTED) & right & readable
    columns = np.array([(row.error_deg, row.disagreement_deg, row.incoherence) for row in placed])[used]
    seen = {}
    for bar in ("upper", "lower"):
        some = [row for row in placed if row.bar == bar]
        seen[bar] = fit_logistic(
            np.array([row.seen for row in some]), np.array([row.readable for row in some])
        )
    table: dict[str, object] = {
        "made_by": "python -m vision.calibrate",
        "bars": len(placed),
        "trust_figures": TRUST_FIGURES,
        "seen_figures": SEEN_FIGURES,
        "trust": trust,
        "seen": seen,
        "sigma": fit_sigma(*columns.T),
    }
    return table, left_out, right


_BINS = (0.0, 0.2, 0.4, 0.6, 0.8, 0.9, 0.95, 0.98, 0.995, 1.0001)


def reliability(predicted: Floats, right: Bools) -> list[tuple[float, float, int]]:
    """Mean prediction, share that was right, and count, bin by bin."""
    lines = []
    for low, high in pairwise(_BINS):
        here = (predicted >= low) & (predicted < high)
        if here.any():
            lines.append((float(predicted[here].mean()), float(right[here].mean()), int(here.sum())))
    return lines


def diagram(lines: Sequence[tuple[float, float, int]]) -> npt.NDArray[np.uint8]:
    """Draw a reliability diagram: predicted across, true upwards, with two standard errors."""
    side, rim = 560, 60
    picture = np.full((side + 2 * rim, side + 2 * rim, 3), 255, np.uint8)

    def at(x: float, y: float) -> tuple[int, int]:
        return round(rim + x * side), round(rim + (1 - y) * side)

    cv2.rectangle(picture, at(0, 1), at(1, 0), (60, 60, 60), 1)
    cv2.line(picture, at(0, 0), at(1, 1), (170, 170, 170), 1, cv2.LINE_AA)
    for predicted, true, count in lines:
        doubt = 2 * float(np.sqrt(max(true * (1 - true), 0.25 / count) / count))
        top, bottom = at(predicted, min(1, true + doubt)), at(predicted, max(0, true - doubt))
        cv2.line(picture, top, bottom, (140, 63, 43), 2)
        cv2.circle(picture, at(predicted, true), 5, (140, 63, 43), -1, cv2.LINE_AA)
        cv2.putText(
            picture, str(count), (top[0] - 40, top[1] + 4), cv2.FONT_HERSHEY_SIMPLEX, 0.4, (90, 90, 90), 1
        )
    words = (
        ("predicted probability that the angle is right", (rim, side + 2 * rim - 20)),
        ("share that was right", (rim, 40)),
    )
    for text, place in words:
        cv2.putText(picture, text, place, cv2.FONT_HERSHEY_SIMPLEX, 0.55, (30, 30, 30), 1, cv2.LINE_AA)
    return picture


def main(argv: Sequence[str] | None = None) -> int:
    """Run the recipe; some hours for many layouts, minutes for a few."""
    parser = argparse.ArgumentParser(
        prog="python -m vision.calibrate", description="Fits the calibration table."
    )
    parser.add_argument("--first", type=int, default=100, help="seed of the first layout")
    parser.add_argument("--layouts", type=int, default=12)
    parser.add_argument("--photos", type=int, default=36, help="photos of each layout")
    parser.add_argument("--table", type=Path, required=True)
    parser.add_argument("--diagram", type=Path)
    options = parser.parse_args(argv)
    rows: list[Row] = []
    for seed in range(options.first, options.first + options.layouts):
        rows += gather(seed, options.photos)
        sys.stderr.write(f"layout {seed}: {len(rows)} bars so far\n")
    table, predicted, right = table_of(rows)
    options.table.write_text(json.dumps(table, indent=1) + "\n")
    lines = reliability(predicted, right)
    for line in lines:
        sys.stdout.write("predicted {:.3f}  right {:.3f}  of {}\n".format(*line))
    if options.diagram:
        cv2.imwrite(str(options.diagram), diagram(lines))
    return 0


if __name__ == "__main__":
    sys.exit(main())
