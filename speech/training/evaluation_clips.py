"""A set of clips to measure with: voices never trained on, sentences drawn from the card, in many conditions.

    python -m speech.training.evaluation_clips OUT SEED CLIPS [--kokoro DIR] [--joe DIR] [--voices NAMES]

Writes OUT/manifest.jsonl, OUT/phrases.jsonl and Ogg/Opus clips, as `tests/bench/bench_hearing.py` reads them.
Conditions: clean (45 dB), pink noise at 15, 10, 5, 0 dB, pump room (10 or 5 dB, most of it steady, as in the
development clips), knocking (the same with nine tenths of the power in knocks), phone (300 to 3400 Hz, mu-law), muffled
(1.5 kHz with a resonance), shouted over the pump room (3 dB), overlap (another voice 6 dB lower), and for stop phrases
an equal voice. Made with NumPy alone, apart from the changes that training draws.
"""

import argparse
import json
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any, Final

import numpy as np
import soundfile
import yaml

from speech.competitors import load_rules
from speech.meaning import Understanding
from speech.phrase import Phrase
from speech.phrasebook import all_phrases
from speech.training.voices import HELD_OUT, RATE, Voices, at_16k

CONDITIONS: Final = (
    "clean",
    "pink15",
    "pink10",
    "pink5",
    "pink0",
    "pump_room",
    "knocking",
    "phone",
    "muffled",
    "shouted",
    "overlap",
)
_VOICES: Final = (
    "flite-slt",
    "piper-joe",
    "festival-ked_diphone",
    *(f"kokoro-{name}" for name in HELD_OUT),
)
_REFUSED: Final = ("near_miss", "chatter")
Sound = np.ndarray[Any, np.dtype[np.float64]]


class Reader:
    """Reads a text with one of the held-out voices."""

    def __init__(
        self, chance: np.random.Generator, kokoro: Path, joe: Path, programs: Path, device: str = "cpu"
    ) -> None:
        self._chance, self._joe_folder = chance, joe
        self._voices = Voices(chance, programs, kokoro, device)
        self._joe: Any = None

    def __call__(self, voice: str, text: str) -> Sound:
        """16 kHz, silence cut, peak one."""
        engine, _, name = voice.partition("-")
        if engine == "piper":
            samples, rate = self._piper(text)
        else:
            samples, rate = getattr(self._voices, engine)(text, name)
        made = at_16k(samples, rate).astype(float)
        loud = np.flatnonzero(np.abs(made) > 0.01 * np.abs(made).max())
        kept = made[max(0, loud[0] - 300) : loud[-1] + 600]
        return np.asarray(kept / np.abs(kept).max())

    def _piper(self, text: str) -> tuple[Any, int]:
        import onnxruntime  # noqa: PLC0415 - a development tool

        if self._joe is None:
            network, told = (next(self._joe_folder.glob(pattern)) for pattern in ("*.onnx", "*.onnx.json"))
            session = onnxruntime.InferenceSession(str(network), providers=["CPUExecutionProvider"])
            self._joe = session, json.loads(told.read_text())
        session, told = self._joe
        sounds = (
            self._voices.run("espeak-ng", "-v", "en-us", "--ipa", "-q", text)
            .decode()
            .strip()
            .replace("\n", " ")
        )
        numbers = told["phoneme_id_map"]
        ids = [*numbers["^"], *numbers["_"]]
        for sign in sounds:
            ids += [*numbers[sign], *numbers["_"]] if sign in numbers else []
        scales = np.array([0.667, self._chance.uniform(0.9, 1.2), 0.8], np.float32)
        feed = {
            "input": np.array([ids + numbers["$"]]),
            "input_lengths": np.array([len(ids) + 1]),
            "scales": scales,
        }
        return session.run(None, feed)[0].reshape(-1), told["audio"]["sample_rate"]


def _coloured(chance: np.random.Generator, length: int, slope: float) -> Sound:
    hertz = np.fft.rfftfreq(length, 1 / RATE)
    lines = (chance.normal(size=len(hertz)) + 1j * chance.normal(size=len(hertz))) * np.maximum(
        hertz, 40
    ) ** -slope
    made = np.fft.irfft(lines, length)
    return np.asarray(made / made.std())


def _filtered(sound: Sound, gain: Any) -> Sound:  # noqa: ANN401 - a function of frequency
    hertz = np.fft.rfftfreq(len(sound) + 8000, 1 / RATE)
    return np.asarray(
        np.fft.irfft(np.fft.rfft(sound, len(sound) + 8000) * gain(hertz), len(sound) + 8000)[: len(sound)]
    )


def _active(sound: Sound) -> float:
    frames = sound[: len(sound) // 320 * 320].reshape(-1, 320)
    power = np.sqrt((frames**2).mean(1))
    return float(np.sqrt((power[power > np.percentile(power, 95) * 10**-1.5] ** 2).mean()))


def _room(chance: np.random.Generator, sound: Sound, seconds: float) -> Sound:
    length = int(seconds * RATE)
    tail = chance.normal(size=length) * np.exp(-6.9 * np.arange(length) / length) * 0.05
    tail[0] = 1
    return np.asarray(np.convolve(sound, tail)[: len(sound)])


def _pump(chance: np.random.Generator, length: int, knocks: float = 0.1) -> Sound:
    """Hum, gear whine, flow and knocks in a room of 0.9 s; `knocks`: their share of the power before the room."""
    clock = np.arange(length) / RATE
    hum = sum(np.sin(2 * np.pi * 50 * k * clock + chance.uniform(0, 6)) / k for k in range(1, 9))
    whine = np.sin(2 * np.pi * chance.uniform(600, 1400) * clock) * (1 + 0.6 * np.sin(2 * np.pi * 25 * clock))
    steady = hum + 0.5 * whine + 1.2 * _coloured(chance, length, 0.5)
    hits = (chance.random(length) < 1.5 / RATE) * chance.normal(size=length)
    blows = np.convolve(hits, np.exp(-np.arange(1600) / 160) * chance.normal(size=1600))[:length]
    blows = blows / (blows.std() + 1e-9) * steady.std() * np.sqrt(knocks / (1 - knocks))
    made = _room(chance, steady + blows, 0.9)
    return np.asarray(made / made.std())


def _phone(sound: Sound) -> Sound:
    narrow = _filtered(
        sound, lambda f: 1 / np.sqrt(1 + (f / 3400) ** 16) / np.sqrt(1 + (300 / np.maximum(f, 1)) ** 6)
    )
    scaled = narrow / np.abs(narrow).max()
    bent = np.round(np.sign(scaled) * np.log1p(255 * np.abs(scaled)) / np.log(256) * 127) / 127
    return np.asarray(np.sign(bent) * (256 ** np.abs(bent) - 1) / 255)


def _muffled(sound: Sound) -> Sound:
    def gain(f: Any) -> Any:  # noqa: ANN401 - an array of frequencies
        r = f / 1500
        return 1 / np.sqrt((1 - r**2) ** 2 + (r / 3) ** 2) / np.sqrt(1 + (f / 2000) ** 4)

    return _filtered(sound, gain)


def _shouted(sound: Sound) -> Sound:
    at = np.arange(int(len(sound) / 2 ** (2 / 12))) * 2 ** (2 / 12)
    higher = np.interp(at, np.arange(len(sound)), sound)
    return _filtered(higher, lambda f: np.maximum(f / 1000, 1))


def in_condition(
    chance: np.random.Generator, sound: Sound, condition: str, other: Sound
) -> np.ndarray[Any, Any]:
    """The sound in a condition, 0.2 to 0.3 s of it before and after, active level -30 +- 3 dBFS, int16."""
    sound = (
        _shouted(sound) if condition == "shouted" else _muffled(sound) if condition == "muffled" else sound
    )
    reverberant = condition in ("pump_room", "knocking")
    sound = _room(chance, sound, 0.5) if reverberant else sound
    around = [np.zeros(int(RATE * chance.uniform(0.2, 0.3))) for _ in range(2)]
    sound = np.concatenate([around[0], sound / _active(sound), around[1]])
    length = len(sound)
    if condition.startswith("overlap"):
        under = np.tile(other / _active(other), 1 + length // len(other))[:length]
        sound = sound + under * (10 ** (-6 / 20) if condition == "overlap" else 1)
    decibels = {"pink15": 15, "pink10": 10, "pink5": 5, "pink0": 0, "shouted": 3, "phone": 25, "muffled": 30}
    ratio = float(chance.choice([10, 5])) if reverberant else decibels.get(condition, 45)
    noise = (
        _pump(chance, length, 0.9 if condition == "knocking" else 0.1)
        if reverberant or condition == "shouted"
        else _coloured(chance, length, 0.5 if condition.startswith("pink") else 0.0)
    )
    sound = sound + noise * 10 ** (-ratio / 20)
    sound = _phone(sound) if condition == "phone" else sound
    sound = sound / _active(sound) * 32_768 * 10 ** ((-30 + chance.uniform(-3, 3)) / 20)
    return np.clip(np.round(sound), -32_768, 32_767).astype(np.int16)


class Drawing:
    """Draws in-grammar sentences of every kind of phrase, and lists what must be refused, with meanings."""

    def __init__(self, chance: np.random.Generator) -> None:
        self._chance = chance
        self._book = all_phrases([str(n) for n in range(1, 25)] + ["3B", "1A", "R1 upper left"])
        self._understanding = Understanding(self._book, load_rules().correction)
        self.found: dict[str, dict[str, Any]] = {}

    def _draw(self, choices: Any) -> Any:  # noqa: ANN401 - from any sequence
        return choices[int(self._chance.integers(len(choices)))]

    def statement(self) -> str:
        """Any phrase of the card, its slots filled."""
        return self._filled(self._draw(self._book))

    def _filled(self, phrase: Phrase) -> str:
        text = phrase.text
        for name, slot in phrase.slots:
            text = text.replace("{" + name + "}", slot.sample(self._draw))
        return text

    def add(self, text: str, kind: str, danger: str | None = None) -> None:
        """One sentence; its meaning is that of the phrases unless it must be refused."""
        understood = self._understanding.of(text) if kind not in _REFUSED else None
        worst = self._understanding.of(danger) if danger else None
        self.found[text] = {
            "text": text,
            "meaning": understood.meaning.to_json() if understood else None,
            "kind": kind,
            "in_grammar": understood is not None,
            "danger": worst.meaning.to_json() if worst else None,
        }

    def one(self) -> None:
        """One sentence of the phrases: a statement, a denial or a slip with its correction."""
        phrase = self._draw(self._book)
        text = self._filled(phrase)
        if phrase.corrects and self._chance.random() < 0.08:
            same = [
                p for p in self._book if (p.group, p.meaning.intent) == (phrase.group, phrase.meaning.intent)
            ]
            said = " ".join([text, self._draw(load_rules().correction), self._filled(self._draw(same))])
            if self._understanding.of(said):
                self.add(said, "self_correction", text)
        elif self._understanding.of(text):
            denied = phrase.meaning.slots.get("negated")
            plain = " ".join(word for word in text.split() if word != "not")
            self.add(
                text,
                "negation" if denied else "stop" if phrase.stops else phrase.group,
                plain if denied else None,
            )

    def refused(self) -> None:
        """Near misses with the phrases they must not be taken for, those phrases themselves, and other talk."""
        listed = yaml.safe_load(Path(__file__).with_name("evaluation_sentences.yaml").read_text())
        for text, danger in listed["near_miss"]:
            self.add(text, "near_miss", danger)
            if self._understanding.of(danger):
                self.add(danger, "danger")
        for text in listed["chatter"]:
            self.add(text, "chatter")


def make(out: Path, seed: int, clips: int, reader: Reader, voices: Sequence[str] = _VOICES) -> None:
    """Write the whole set: two thirds in grammar, each sentence about once, voices and conditions in turn."""
    chance = np.random.default_rng(seed)
    out.mkdir(parents=True, exist_ok=True)
    drawing = Drawing(chance)
    while len(drawing.found) < clips // 3:
        drawing.one()
    drawing.refused()
    sentences = list(drawing.found.values())
    lines = [{**sentence, "id": f"e{number:03d}"} for number, sentence in enumerate(sentences)]
    (out / "phrases.jsonl").write_text("".join(json.dumps(line) + "\n" for line in lines))
    chatter = [line["text"] for line in lines if line["kind"] == "chatter"]
    jobs: list[tuple[dict[str, Any], str | None]] = [(line, None) for line in lines]
    jobs *= max(1, round(clips / len(lines)))
    stops = [line for line in lines if line["kind"] == "stop"]
    jobs += [(line, c) for line in stops for c in (*CONDITIONS, "overlap_equal")]
    with (out / "manifest.jsonl").open("w") as manifest:
        for number, (line, fixed) in enumerate(jobs):
            voice = voices[number % len(voices)]
            condition = (
                fixed or CONDITIONS[(number // len(voices) + 3 * (number % len(voices))) % len(CONDITIONS)]
            )
            if line["kind"] in ("near_miss", "chatter") and condition.startswith("overlap"):
                condition = "clean"
            other = np.ones(1)
            if condition.startswith("overlap"):
                other = reader(
                    str(chance.choice([v for v in voices if v != voice])), str(chance.choice(chatter))
                )
            samples = in_condition(chance, reader(voice, line["text"]), condition, other)
            name = f"{line['id']}_{number:04d}_{voice}_{condition}.ogg"
            soundfile.write(out / name, samples, RATE, format="OGG", subtype="OPUS")
            manifest.write(json.dumps({"file": name, **line, "voice": voice, "condition": condition}) + "\n")


def arguments() -> argparse.ArgumentParser:
    """What a set of clips is made from."""
    parser = argparse.ArgumentParser()
    parser.add_argument("out", type=Path)
    parser.add_argument("seed", type=int)
    parser.add_argument("clips", type=int)
    parser.add_argument("--kokoro", type=Path, help="folder of the Kokoro network and its voices")
    parser.add_argument("--joe", type=Path, help="folder of the Piper voice")
    parser.add_argument("--voices", help="names joined by commas instead of all whose folders are given")
    parser.add_argument("--programs", type=Path, default=Path())
    parser.add_argument("--device", default="cpu", help="where the Kokoro network runs")
    return parser


def reader_of(options: argparse.Namespace) -> tuple[Reader, list[str]]:
    """What reads, and with which voices."""
    absent = {"piper": not options.joe, "kokoro": not options.kokoro}
    voices = [voice for voice in _VOICES if not absent.get(voice.partition("-")[0])]
    chance = np.random.default_rng(options.seed + 1)
    reader = Reader(chance, options.kokoro or Path(), options.joe or Path(), options.programs, options.device)
    return reader, options.voices.split(",") if options.voices else voices


def run(make: Callable[[Path, int, int, Reader, Sequence[str]], None]) -> None:
    """Make a set of clips as the command line asks."""
    options = arguments().parse_args()
    reader, voices = reader_of(options)
    make(options.out, options.seed, options.clips, reader, voices)


if __name__ == "__main__":
    run(make)
