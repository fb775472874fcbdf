"""Hears recordings of people, each group of words as one list, and prints the word error rates.

    python tests/bench/bench_recordings.py FOLDER [--model DIR] [--together]

FOLDER holds `recordings.tsv` (group, file, the words said), as `speech/training/human_recordings.py` writes it.
"nearest" is what the sound resembles most among the words of its group, heard by the exact graph alone; "taken"
is what the whole rule accepts or refuses. `--together` puts the words of all groups on one list. Nothing is
asserted here.
"""

import argparse
from collections import defaultdict
from pathlib import Path

import jiwer

from speech.audio import load_clip
from speech.hearing import Hearer
from speech.lexicon import FILLER, Lexicon
from speech.lexicon_graph import word_graph
from speech.model_folder import open_model
from speech.phrase import Meaning, Phrase
from speech.recogniser import Graphs, Recogniser
from speech.word_graph import exact_graph


def _groups(folder: Path, *, together: bool) -> dict[str, list[tuple[str, str]]]:
    found: dict[str, list[tuple[str, str]]] = defaultdict(list)
    for line in (folder / "recordings.tsv").read_text(encoding="utf-8").splitlines():
        group, file, words = line.split("\t")
        found["all" if together else group].append((file, words))
    return found


def _exactly(phrases: list[Phrase], model: Path | None) -> Recogniser:
    """A recogniser that always hears one of the phrases."""
    graph = exact_graph(phrases, ())
    said, _ = Lexicon().pronounce(sorted(graph.words()))
    graphs = Graphs(open_model(model), *word_graph(said | {FILLER: [["SPN"]]}))
    return graphs.recogniser("exact", graph, lattice_beam="0.5")


def main() -> None:
    """The command line of the docstring."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--model", type=Path)
    parser.add_argument("--together", action="store_true")
    options = parser.parse_args()
    said_all, nearest_all = list[str](), list[str]()
    print("group       clips  word errors of the nearest, %   taken: right  refused  wrong")
    for group, clips in _groups(options.folder, together=options.together).items():
        texts = list(dict.fromkeys(words for _, words in clips))
        phrases = [Phrase(text, Meaning("word", {"said": text})) for text in texts]
        hearer, exact = Hearer(phrases, options.model), _exactly(phrases, options.model)
        said, nearest, taken, confused = [], list[str](), [0, 0, 0], []
        for file, words in clips:
            sound = (options.folder / file).read_bytes()
            heard = hearer.hear(sound, file)
            said.append(words)
            best = exact.best_path(load_clip(sound).samples).text
            nearest.append(best or "-")
            taken[0 if heard.text == words else 1 if not heard.text else 2] += 1
            if best != words:
                confused.append(f"{words} > {best}")
        said_all += said
        nearest_all += nearest
        rate = 100 * jiwer.wer(said, nearest)
        print(f"{group:<12}{len(clips):5d}  {rate:26.1f}   {taken[0]:14d}  {taken[1]:7d}  {taken[2]:5d}")
        print("            " + ", ".join(confused))
    print(f"all         {len(said_all):5d}  {100 * jiwer.wer(said_all, nearest_all):26.1f}")


if __name__ == "__main__":
    main()
