"""Loads the shipped model into `vosk-browser` in Chromium and hears clips there: size, time to load, speed.

    python tests/bench/bench_phone.py [FOLDER] [--only EVERY_NTH] [--package DIR]

FOLDER holds `phrases.jsonl` and `manifest.jsonl` (default: the sample clips of hearing). What a phone would
fetch is made here: the model folder with the graph of the phrases, as `model.tar.gz`. The library is
`vosk-browser` 0.0.8 from npm, fetched by `npm pack` into a temporary folder, or DIR with `dist/vosk.js`; nothing
of it is kept. Each clip is heard with the phrases' own graph and with the library's run-time grammar. Needs npm,
Chromium and the extra `[browser]`; says in one line which of them is missing. The baseline is Vosk on this machine,
outside the browser, with the same graph in the same run.
"""

import argparse
import base64
import functools
import http.server
import importlib.util
import io
import json
import shutil
import subprocess
import sys
import tarfile
import tempfile
import threading
import time
from pathlib import Path
from typing import Any

import numpy as np

from speech.audio import RATE, load_clip
from speech.hearing import Hearer
from speech.phrase import load_phrases
from tests.journeys.browser_driving import CHROMIUM, FLAGS

LIBRARY = "vosk-browser@0.0.8"
SAMPLES = Path(__file__).parents[2] / "sample_media"
PAGE = """<!doctype html><title>phone</title><script src="vosk.js"></script><script>
async function load(url) {
  const began = performance.now();
  window.model = await Vosk.createModel(url);
  return performance.now() - began;
}
function hear(samples, grammar) {
  const bytes = Uint8Array.from(atob(samples), sign => sign.charCodeAt(0));
  const sound = Float32Array.from(new Int16Array(bytes.buffer), one => one / 32768);
  return new Promise((told, failed) => {
    const recognizer = grammar ? new model.KaldiRecognizer(16000, grammar) : new model.KaldiRecognizer(16000);
    const words = [];
    recognizer.setWords(true);
    let last = false, began = 0;
    recognizer.on("result", message => {
      words.push(...(message.result.result || []));
      if (last) { recognizer.remove(); told({ms: performance.now() - began, words}); }
    });
    recognizer.on("error", message => failed(new Error(message.error)));
    began = performance.now();
    for (let at = 0; at < sound.length; at += 4000)
      recognizer.acceptWaveformFloat(sound.slice(at, at + 4000).map(one => one * 32768), 16000);
    last = true;
    recognizer.retrieveFinalResult();
  });
}
</script>"""


def fetch_library(folder: Path) -> Path:
    """The library's one script, fetched by npm's own client."""
    subprocess.run(["npm", "pack", "--silent", LIBRARY], cwd=folder, check=True, stdout=subprocess.DEVNULL)
    with tarfile.open(next(folder.glob("*.tgz"))) as package:
        script = package.extractfile("package/dist/vosk.js")
        if script is None:
            raise FileNotFoundError("package/dist/vosk.js")
        (folder / "vosk.js").write_bytes(script.read())
    return folder / "vosk.js"


def pack_model(hearer: Hearer) -> bytes:
    """What a phone fetches: acoustic model, options, and the graph of the phrases, as tar.gz."""
    folder = hearer._judge.live._folder  # type: ignore[union-attr]
    kept = io.BytesIO()
    with tarfile.open(fileobj=kept, mode="w:gz", dereference=True) as archive:
        archive.add(folder, "model")
    return kept.getvalue()


def serve(folder: Path) -> http.server.ThreadingHTTPServer:
    """A server of one folder on a free port of this machine."""
    quiet = type("Quiet", (http.server.SimpleHTTPRequestHandler,), {"log_message": lambda *_: None})
    server = http.server.ThreadingHTTPServer(("127.0.0.1", 0), functools.partial(quiet, directory=folder))
    threading.Thread(target=server.serve_forever, daemon=True).start()
    return server


def clips_of(folder: Path, every: int) -> list[tuple[str, Any]]:
    """What is said in clips of the phrases, and their samples."""
    manifest = folder / "manifest.jsonl"
    if manifest.exists():
        lines = [json.loads(line) for line in manifest.read_text(encoding="utf-8").splitlines()]
        chosen = [(one["text"], folder / one["file"]) for one in lines if one["in_grammar"]]
    else:
        chosen = [
            (path.stem.rpartition("_")[0].replace("_", " "), path) for path in sorted(folder.glob("*.ogg"))
        ]
    return [(text, load_clip(path.read_bytes()).samples) for text, path in chosen[::every]]


def hear_here(hearer: Hearer, clips: list[tuple[str, Any]]) -> float:
    """Seconds that Vosk takes outside the browser."""
    began = time.perf_counter()
    for _, samples in clips:
        hearer._judge.live.best_path(samples)  # type: ignore[union-attr]
    return time.perf_counter() - began


def missing() -> str | None:
    """What this machine lacks, in one line."""
    if shutil.which("npm") is None:
        return "no npm on this machine: nothing was measured"
    if importlib.util.find_spec("playwright") is None:
        return "the extra [browser] is not installed: nothing was measured"
    if not CHROMIUM.exists():
        return f"no Chromium at {CHROMIUM}: nothing was measured"
    return None


def main() -> int:
    """The command line of the docstring."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("folder", type=Path, nargs="?", default=SAMPLES / "clips" / "hearing")
    parser.add_argument("--only", type=int, default=4)
    parser.add_argument("--package", type=Path)
    options = parser.parse_args()
    lacks = missing()
    if lacks:
        print(lacks)
        return 1
    from playwright.sync_api import sync_playwright

    hearer = Hearer(load_phrases(options.folder / "phrases.jsonl"))
    clips = clips_of(options.folder, options.only)
    seconds = sum(len(samples) for _, samples in clips) / RATE
    grammar = json.dumps([*(phrase.text for phrase in hearer.phrases if "{" not in phrase.text), "[unk]"])
    with tempfile.TemporaryDirectory() as made:
        folder = Path(made)
        script = options.package / "dist" / "vosk.js" if options.package else fetch_library(folder)
        if script.parent != folder:
            shutil.copy(script, folder / "vosk.js")
        archive = pack_model(hearer)
        (folder / "model.tar.gz").write_bytes(archive)
        (folder / "index.html").write_text(PAGE)
        server = serve(folder)
        print(
            f"archive {len(archive) / 1e6:.2f} MB, library {(folder / 'vosk.js').stat().st_size / 1e6:.2f} MB"
        )
        with sync_playwright() as playwright:
            browser = playwright.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
            page = browser.new_page()
            page.goto(f"http://127.0.0.1:{server.server_port}/index.html")
            print(
                f"Chromium {browser.version}: loaded in {page.evaluate('load', 'model.tar.gz') / 1000:.2f} s"
            )
            here = hear_here(hearer, clips)
            for name, given in (("the phrases' graph", None), ("run-time grammar", grammar)):
                right, took, timed = 0, 0.0, 0
                for text, samples in clips:
                    sound = base64.b64encode(np.ascontiguousarray(samples).tobytes()).decode()
                    heard = page.evaluate("([sound, grammar]) => hear(sound, grammar)", [sound, given])
                    took += heard["ms"] / 1000
                    right += " ".join(word["word"] for word in heard["words"]) == text
                    timed += bool(heard["words"]) and all(
                        word["end"] > word["start"] for word in heard["words"]
                    )
                print(
                    f"{name}: {right} of {len(clips)} clips as said, {timed} with word times, "
                    f"real-time factor {took / seconds:.3f}, x {took / here:.1f} of Vosk outside the browser"
                )
            browser.close()
        server.shutdown()
    return 0


if __name__ == "__main__":
    sys.exit(main())
