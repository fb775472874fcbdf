"""Memory of several streams, each on another step of a job with phrases of its own.

    python tests/bench/bench_memory.py [--streams 4]

Prints MB of the whole process after each further stream has heard a sample clip; the baseline is Vosk itself
with one graph loaded.
"""

import argparse
import resource

from speech.audio import load_clip
from speech.hearing import Hearer
from speech.phrasebook import phrases_for
from speech.streaming import Session
from tests.speech.samples import CLIPS

LABELS = ("9", "3B", "17", "5A")
STEPS = (
    ("contact", "control", "isolation", "gear"),
    ("isolation", "control", "gear"),
    ("tag", "measure", "control", "isolation"),
    ("mark", "travel", "measure", "control", "rotation"),
)


def memory_mb() -> float:
    """Greatest memory of this process so far, in MB."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def main() -> None:
    """The command line of the docstring."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--streams", type=int, default=len(STEPS))
    streams = parser.parse_args().streams
    bare = memory_mb()
    Hearer(phrases_for(STEPS[0], LABELS)).listener()
    alone = memory_mb()
    print(f"{bare:.0f} MB before, {alone:.0f} MB with one graph loaded")
    pcm = load_clip((CLIPS / "breaker_is_closed_clean.ogg").read_bytes()).samples.tobytes() + bytes(96_000)
    kept = []
    for number in range(streams):
        labels = LABELS if number < len(STEPS) else (*LABELS, str(20 + number))
        session = Session(Hearer(phrases_for(STEPS[number % len(STEPS)], labels)))
        for at in range(0, len(pcm), 6_400):
            session.feed(pcm[at : at + 6_400])
        session.close()
        kept.append(session)
        print(
            f"{len(kept)} streams, each on its own step: {memory_mb():.0f} MB, {memory_mb() / alone:.1f} times"
        )


if __name__ == "__main__":
    main()
