"""Hears every clip of a folder and prints what came out, condition by condition.

    python tests/bench/bench_hearing.py FOLDER [--model DIR] [--only EVERY_NTH] [--out DECISIONS.jsonl]
        [--voices NAMES] [--engine pocketsphinx]

`--voices`: only clips of these voices, joined by commas. `--engine pocketsphinx`: the same phrases and clips by
another recogniser. FOLDER holds `manifest.jsonl` (file, text, meaning, kind, condition, danger) and `phrases.jsonl`.
OUT gets every clip with its outcome and reason (`outcome` wrong, flip or accepted: the confusions); nothing is
asserted here.
"""

import argparse
import json
import resource
import sys
import tempfile
import time
from collections import Counter, defaultdict
from pathlib import Path
from typing import Any

import jiwer

from speech.hearing import Hearer, Hearing
from speech.phrase import Meaning, load_phrases
from tests.bench.sphinx_hearer import SphinxHearer


def _key(meaning: dict[str, Any] | None) -> str | None:
    return Meaning(meaning["intent"], meaning["slots"]).key() if meaning else None


def verdict_of(clip: dict[str, Any], heard: Hearing) -> str:
    """One word: right, refused, wrong, flip, missed (a stop), accepted (what must be refused), rejected."""
    got = Meaning(heard.intent, heard.slots).key() if heard.verdict == "heard" and heard.intent else None
    if not clip["in_grammar"]:
        if got is None:
            return "rejected"
        return "flip" if got == _key(clip.get("danger")) else "accepted"
    if got == _key(clip["meaning"]):
        return "right"
    if got is None:
        return "missed" if clip["kind"] == "stop" else "refused"
    return "flip" if got == _key(clip.get("danger")) else "wrong"


def _share(counts: Counter[str], *names: str) -> str:
    total = sum(counts.values())
    return f"{100 * sum(counts[n] for n in names) / total:5.1f}" if total else "    -"


def _print_rows(title: str, rows: dict[str, Counter[str]]) -> None:
    print(f"\n{title:<16} clips  right refused+missed  wrong+flip")
    for name, counts in sorted(rows.items()):
        bad = counts["wrong"] + counts["flip"]
        refused = _share(counts, "refused", "missed")
        print(f"{name:<16} {sum(counts.values()):5d}  {_share(counts, 'right')}   {refused}         {bad:3d}")


def _summary(clips: list[dict[str, Any]], verdicts: list[str]) -> None:
    rows = list(zip(clips, verdicts, strict=True))
    inside = Counter(v for c, v in rows if c["in_grammar"])
    print(f"\nin grammar {sum(inside.values())}: " + ", ".join(f"{k} {v}" for k, v in inside.most_common()))
    for kind in ("chatter", "near_miss"):
        found = [v for c, v in rows if c["kind"] == kind]
        print(f"{kind}: {sum(v != 'rejected' for v in found)} of {len(found)} accepted")
    danger = [v for c, v in rows if c.get("danger")]
    print(f"with a dangerous opposite: {sum(v == 'flip' for v in danger)} of {len(danger)} taken for it")
    stops = [(c, v) for c, v in rows if c["kind"] == "stop"]
    missed = Counter(c["condition"] for c, v in stops if v != "right")
    print(f"stop missed: {sum(missed.values())} of {len(stops)} {dict(missed)}")


def _hearer(options: argparse.Namespace) -> Hearer | SphinxHearer:
    phrases = load_phrases(options.folder / "phrases.jsonl")
    if options.engine == "ours":
        return Hearer(phrases, options.model)
    with tempfile.TemporaryDirectory() as folder:
        return SphinxHearer(phrases, Path(folder) / "said.gram")


def main() -> None:
    """The command line of the docstring."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--model", type=Path)
    parser.add_argument("--only", type=int, default=1)
    parser.add_argument("--out", type=Path)
    parser.add_argument("--voices")
    parser.add_argument("--engine", choices=("ours", "pocketsphinx"), default="ours")
    options = parser.parse_args()
    manifest = (options.folder / "manifest.jsonl").read_text(encoding="utf-8").splitlines()
    clips = [json.loads(line) for line in manifest][:: options.only]
    if options.voices:
        clips = [clip for clip in clips if clip["voice"] in options.voices.split(",")]
    hearer = _hearer(options)
    verdicts, kept, audio, began = [], [], 0.0, time.perf_counter()
    worked = time.process_time()
    by_condition: dict[str, Counter[str]] = defaultdict(Counter)
    by_voice: dict[str, Counter[str]] = defaultdict(Counter)
    false_stops, confused, references, texts = 0, Counter[tuple[str, str]](), [], []
    for clip in clips:
        heard = hearer.hear((options.folder / clip["file"]).read_bytes(), clip["file"])
        verdict = verdict_of(clip, heard)
        verdicts.append(verdict)
        audio += heard.audio_s
        false_stops += clip["kind"] != "stop" and heard.slots.get("action") == "stop_work"
        if clip["in_grammar"]:
            by_condition[clip["condition"]][verdict] += 1
            by_voice[clip["voice"]][verdict] += 1
            references.append(clip["text"])
            texts.append(heard.nearest or "")
        if verdict in ("wrong", "flip", "accepted"):
            confused[clip["text"], heard.text] += 1
        line = {**heard.to_json(), "said": clip["text"], "outcome": verdict, "quality": heard.quality}
        kept.append(line | {"kind": heard.kind, "nearest": heard.nearest})
    took, worked = time.perf_counter() - began, time.process_time() - worked
    _print_rows("condition", by_condition)
    _print_rows("voice", by_voice)
    _summary(clips, verdicts)
    others = sum(c["kind"] != "stop" for c in clips)
    print(f"other speech taken for stop: {false_stops} of {others}")
    print(f"word error rate of the nearest phrase, in grammar: {100 * jiwer.wer(references, texts):.1f} %")
    print(
        f"real-time factor {took / audio:.3f}, of one core's work {worked / audio:.3f} ({audio / 60:.1f} min)"
    )
    print(f"peak memory {_memory():.0f} MB")
    for (said, heard_as), count in confused.most_common():
        print(f"  {count} x said {said!r} heard {heard_as!r}")
    if options.out:
        options.out.write_text("".join(json.dumps(line) + "\n" for line in kept), encoding="utf-8")
    sys.stdout.flush()


def _memory() -> float:
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


if __name__ == "__main__":
    main()
