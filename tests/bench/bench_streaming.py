"""Plays the clips of a folder as live streams and prints how far behind the ear is, what it costs, what it takes.

    python tests/bench/bench_streaming.py FOLDER [--only EVERY_NTH] [--streams 4] [--real]

FOLDER holds `manifest.jsonl` (file, text, in_grammar, condition) and `phrases.jsonl`. Sound comes in pieces of 50 ms.
Without `--real` the pace is reckoned: a piece is done at the later of its arrival and the end of the work before it,
plus the time of this thread's own work on it, so that a busy machine does not count. With `--real` the streams run
at once, each in its own thread, at the pace of a microphone. When a word ended is told by the hearing of the whole
clip (the recordings state no times). The baseline is Vosk's own recogniser following the same sound with the same
phrases and its default options, which decides nothing.
"""

import argparse
import json
import resource
import threading
import time
from collections import defaultdict
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np

from speech.audio import load_clip
from speech.hearing import Hearer
from speech.phrase import load_phrases
from speech.recogniser import Word
from speech.streaming import Partial, Session, Uttered

RATE, PIECE = 16_000, 800
BEFORE_S, AFTER_S, APART_S = 1.0, 3.0, 1.4


@dataclass
class Figures:
    """What was measured over some clips; seconds."""

    partial: list[float] = field(default_factory=list)
    claim: list[float] = field(default_factory=list)
    audio: float = 0.0
    work: float = 0.0
    heard: int = 0
    clips: int = 0

    def add(self, other: "Figures") -> None:
        """Put the figures of other clips to these."""
        self.partial += other.partial
        self.claim += other.claim
        self.audio, self.work = self.audio + other.audio, self.work + other.work
        self.heard, self.clips = self.heard + other.heard, self.clips + other.clips


class Pace:
    """When a piece that ends at a second of the stream is done, at a microphone's pace."""

    def __init__(self, *, real: bool) -> None:
        self._real, self._began, self._free = real, time.perf_counter(), 0.0
        self._at, self._worked = 0.0, 0.0

    def arrive(self, second: float) -> None:
        """The sound up to this second has arrived."""
        self._at, self._worked = second, time.thread_time()
        if self._real:
            time.sleep(max(0.0, self._began + second - time.perf_counter()))

    def now(self) -> float:
        """The second of the stream's own clock at which the work on the piece has come so far."""
        if self._real:
            return time.perf_counter() - self._began
        return max(self._at, self._free) + time.thread_time() - self._worked

    def done(self) -> None:
        """The work on the piece is over."""
        self._free = self.now()


def quiet(seconds: float) -> Any:
    """Silence of a microphone."""
    return (np.random.default_rng(5).normal(size=int(RATE * seconds)) * 8).astype(np.int16)


def follow(words: tuple[Word, ...], shown: int, text: str, now: float, figures: Figures) -> int:
    """Note how far behind its end each word is shown that was not shown before; returns how many are."""
    said = text.split()
    while shown < min(len(said), len(words)) and said[shown] == words[shown].word:
        figures.partial.append(now - words[shown].end)
        shown += 1
    return shown


def play(hearer: Hearer, samples: Any, words: tuple[Word, ...], *, real: bool) -> Figures:
    """Stream one clip through a session."""
    figures = Figures(audio=len(samples) / RATE, clips=1)
    session, pace, shown, began = Session(hearer), Pace(real=real), 0, time.thread_time()
    raw = samples.tobytes()
    for at in range(0, len(raw), 2 * PIECE):
        pace.arrive((at + 2 * PIECE) / (2 * RATE))
        for event in session.hear(raw[at : at + 2 * PIECE]):
            if isinstance(event, Partial):
                shown = follow(words, shown, event.text, pace.now(), figures)
            elif isinstance(event, Uttered) and event.hearing.verdict == "heard" and event.hearing.words:
                figures.heard += 1
                figures.claim.append(pace.now() - event.hearing.words[-1].end)
        pace.done()
    figures.work = time.thread_time() - began
    return figures


def play_baseline(recogniser: Any, samples: Any, words: tuple[Word, ...]) -> Figures:
    """Stream one clip through Vosk's own recogniser."""
    figures = Figures(audio=len(samples) / RATE, clips=1)
    listener, pace, shown, began = recogniser.listener(), Pace(real=False), 0, time.thread_time()
    raw = samples.tobytes()
    for at in range(0, len(raw), 2 * PIECE):
        pace.arrive((at + 2 * PIECE) / (2 * RATE))
        ended = listener.AcceptWaveform(raw[at : at + 2 * PIECE])
        if ended and shown and not figures.claim:
            figures.claim.append(pace.now() - words[shown - 1].end)
        if not ended:
            text = json.loads(listener.PartialResult())["partial"]
            shown = follow(words, shown, text, pace.now(), figures)
        pace.done()
    figures.work = time.thread_time() - began
    return figures


def at(values: list[float], share: float) -> float:
    """A percentile; not a number where there is nothing."""
    return float(np.percentile(values, share)) if values else float("nan")


def print_row(name: str, of: Figures) -> None:
    """One line of the table."""
    print(
        f"{name:<14}{of.clips:6d}{of.heard:6d}   {at(of.partial, 50):5.2f} {at(of.partial, 95):5.2f}"
        f"     {at(of.claim, 50):5.2f} {at(of.claim, 95):5.2f}    {of.work / max(of.audio, 1e-9):6.3f}"
    )


def memory_mb() -> float:
    """Greatest memory of this process so far, in MB."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def play_at_once(hearer: Hearer, queues: list[list[tuple[Any, tuple[Word, ...]]]]) -> tuple[Figures, float]:
    """Play several lists of clips at once at a microphone's pace; returns figures and seconds."""
    whole, lock = Figures(), threading.Lock()

    def run(number: int, clips: list[tuple[Any, tuple[Word, ...]]]) -> None:
        time.sleep(number * APART_S)  # people do not all stop speaking in the same moment
        for samples, words in clips:
            found = play(hearer, samples, words, real=True)
            with lock:
                whole.add(found)

    threads = [threading.Thread(target=run, args=(k, clips)) for k, clips in enumerate(queues)]
    began = time.perf_counter()
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return whole, time.perf_counter() - began


def main() -> None:
    """The command line of the docstring."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("folder", type=Path)
    parser.add_argument("--only", type=int, default=4)
    parser.add_argument("--streams", type=int, default=4)
    parser.add_argument("--real", action="store_true")
    options = parser.parse_args()
    bare = memory_mb()
    lines = map(json.loads, (options.folder / "manifest.jsonl").read_text(encoding="utf-8").splitlines())
    chosen = [line for line in lines if line["in_grammar"]][:: options.only]
    hearer = Hearer(load_phrases(options.folder / "phrases.jsonl"))
    clips = []
    for line in chosen:
        heard = load_clip((options.folder / line["file"]).read_bytes()).samples
        samples = np.concatenate([quiet(BEFORE_S), heard, quiet(AFTER_S)])
        hearing = hearer.hear_samples(samples)
        if hearing.verdict == "heard" and hearing.text == line["text"]:
            clips.append((line["condition"], samples, hearing.words))
    loaded = memory_mb()
    print(f"{len(clips)} of {len(chosen)} clips are heard as said and played\n")
    print("condition      clips heard   partial behind, s   claim after, s   work a second")
    print("                             median  95 %        median  95 %")
    if options.real:
        queues = [[one[1:] for one in clips[k :: options.streams]] for k in range(options.streams)]
        whole, took = play_at_once(hearer, queues)
        print_row(f"{options.streams} at once", whole)
        print(f"\nreal-time factor of all streams together: {whole.work / took:.3f} cores")
    else:
        by: dict[str, Figures] = defaultdict(Figures)
        whole, baseline = Figures(), Figures()
        plain = hearer._judge._graphs.recogniser("baseline", hearer._judge.graph)  # type: ignore[union-attr]
        for condition, samples, words in clips:
            found = play(hearer, samples, words, real=False)
            by[condition].add(found)
            whole.add(found)
            baseline.add(play_baseline(plain, samples, words))
        for condition, figures in sorted(by.items()):
            print_row(condition, figures)
        print_row("all", whole)
        print_row("plain Vosk", baseline)
        print(
            f"\nagainst plain Vosk: partial words (95 %) x {at(whole.partial, 95) / at(baseline.partial, 95):.2f}, "
            f"claim (median) x {at(whole.claim, 50) / at(baseline.claim, 50):.2f}, "
            f"work x {whole.work / baseline.work:.2f} (it decides nothing)"
        )
    print(f"memory: {bare:.0f} MB before, {loaded:.0f} MB loaded, {memory_mb():.0f} MB at most")


if __name__ == "__main__":
    main()
