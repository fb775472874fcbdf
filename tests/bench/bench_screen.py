"""Counts photographed screens that are noticed, and photos of scenes that are taken for one.

    OMP_NUM_THREADS=1 python -m tests.bench.bench_screen [--photos DIR] [--renders N]

Screens are simulated from own renders (every fourth) and from the photos of DIR (every seventh). Nothing is asserted.
"""

import argparse
import sys
from pathlib import Path

import cv2
import numpy as np

from tests.bench.reading_figures import upper_bound
from tests.vision.scenery import invented
from tests.vision.screens import photographed_screen
from vision.photo import decode
from vision.render import render
from vision.scenes import random_scene
from vision.screen import SCREEN_FROM, grid_figure


def told(name: str, figures: list[float]) -> None:
    """Print how many figures are a screen's, and their spread."""
    seen = np.array(figures)
    taken = int((seen >= SCREEN_FROM).sum())
    low, middle, high = np.quantile(seen, [0.05, 0.5, 1.0])
    print(
        f"{name:34s} {taken:4d} of {len(seen):4d} taken for a screen "
        f"(under {100 * upper_bound(taken, len(seen)):5.1f} %); "
        f"figure 5 % {low:5.2f}, median {middle:5.2f}, most {high:5.2f}"
    )


def main() -> int:
    """Run from the command line."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--photos", type=Path)
    parser.add_argument("--renders", type=int, default=60)
    options = parser.parse_args()
    cv2.setNumThreads(1)
    chance = np.random.default_rng(2)
    rendered, shown = [], []
    for number in range(options.renders):
        switch = invented(60 + number % 6, 3)
        pixels = decode(render(random_scene(switch.layout, switch.look, 9000 + number)).photo).pixels
        rendered.append(grid_figure(pixels))
        if number % 4 == 0:
            shown.append(pixels)
    told("own renders", rendered)
    if options.photos is not None:
        files = sorted(options.photos.glob("*.jpg"))
        photos = [decode(file.read_bytes()).pixels for file in files]
        told("photos", [grid_figure(pixels) for pixels in photos])
        shown += photos[::7]
    for blur_px in (0.5, 0.9, 1.4):
        for size in ((1280, 960), (2560, 1920)):
            found = []
            for picture in shown:
                level = (
                    picture
                    if picture.shape[1] > picture.shape[0]
                    else np.ascontiguousarray(np.rot90(picture))
                )
                ratio = float(np.exp(chance.uniform(np.log(0.6), np.log(5.0))))
                turn = float(chance.normal(0, 4))
                screen = photographed_screen(level, ratio, size=size, turn_deg=turn, blur_px=blur_px)
                quality = [cv2.IMWRITE_JPEG_QUALITY, int(chance.integers(75, 95))]
                found.append(grid_figure(decode(cv2.imencode(".jpg", screen, quality)[1].tobytes()).pixels))
            told(f"screens, {size[0]} px, blur {blur_px} px", found)
    return 0


if __name__ == "__main__":
    sys.exit(main())
