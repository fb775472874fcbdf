"""What happens to a clip between the mouth and the recogniser, drawn anew at every training step.

All on tensors [B, N] of one batch: another pace and pitch, a room, a shout, plant noise, bangs, one other talker, a
respirator, a telephone, a microphone, an overload, a level, a voice smoothed as by a machine. Shares and ranges
stand beside each change.
"""

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
import torch
import torch.nn.functional as F  # noqa: N812 - the name everybody uses
from torch import Tensor

from speech.training import network

RATE: Final = 16_000
_TAIL: Final = 8_000
_WARPS: Final = tuple(float(w) for w in np.linspace(0.80, 1.22, 15))


@dataclass
class Batch:
    """Energies [B, T, 40], frames [B], and which clips have silence at both ends."""

    energies: Tensor
    frames: Tensor
    padded: Tensor


class SoundChanges:
    """Draws and applies the changes on one device."""

    def __init__(self, device: str) -> None:
        self.device = device
        plain = network.mel_bands()
        bands = [network.mel_bands(warp) for warp in _WARPS] + [plain]
        self._bands = torch.tensor(np.stack(bands), device=device)
        self._window = torch.tensor(network.povey_window(), device=device)

    def _between(self, size: int, low: float, high: float) -> Tensor:
        return torch.rand(size, device=self.device) * (high - low) + low

    def _happens(self, size: int, share: float) -> Tensor:
        return torch.rand(size, device=self.device) < share

    def _curve(self, size: int, lines: int, decibels: float) -> Tensor:
        """A smooth random gain over frequency, as a factor [B, lines]."""
        at = torch.linspace(0, 1, lines, device=self.device)
        waves = torch.stack([torch.cos(math.pi * k * at) for k in range(1, 6)])
        weights = torch.tensor([1, 0.8, 0.6, 0.5, 0.4], device=self.device)
        gains: Tensor = (torch.randn(size, 5, device=self.device) * weights) @ waves * decibels
        return 10 ** (gains / 20)

    def place(self, audio: Tensor, start: Tensor, length: Tensor) -> tuple[Tensor, Tensor, Tensor, Tensor]:
        """Clips cut from the store with silence around and at another pace: sound, spoken, total, padded.

        Pace and pitch change together here (0.85 to 1.18, half of the clips); the formants move apart from the
        pitch in `energies`.
        """
        size = len(start)
        pace = torch.where(
            self._happens(size, 0.5), self._between(size, 0.85, 1.18), torch.ones(size, device=self.device)
        )
        spoken = (length / pace).long()
        padded = ~self._happens(size, 0.08)
        before, after = (
            torch.where(padded, self._between(size, 2400, 9600), self._between(size, 0, 800)).long()
            for _ in "ab"
        )
        total = before + spoken + after
        at = torch.arange(int(total.max()), device=self.device)[None] - before[:, None]
        inside = (at >= 0) & (at < spoken[:, None])
        exact = at * pace[:, None]
        left = exact.floor().long().clamp(min=0)
        left = torch.minimum(left, (length - 1)[:, None])
        right = torch.minimum(left + 1, (length - 1)[:, None])
        share = (exact - left).clamp(0, 1)
        base = start[:, None]
        sound = audio[base + left].float() * (1 - share) + audio[base + right].float() * share
        return sound * inside / 20_000.0, inside, total, padded

    def spoken_in_a_room(self, sound: Tensor, loud: Tensor) -> Tensor:
        """A room (55 %: decay 0.08 to 0.8 s), the voice's own colour; the shouted rise 6 dB an octave over 1 kHz."""
        size, samples = sound.shape
        points = samples + _TAIL
        hertz = torch.linspace(0, RATE / 2, points // 2 + 1, device=self.device)[None]
        seconds = torch.arange(_TAIL, device=self.device)[None] / RATE
        decay = torch.exp(-6.9 * seconds / self._between(size, 0.08, 0.8)[:, None])
        room = torch.randn(size, _TAIL, device=self.device) * decay
        room = room * (seconds > self._between(size, 0.001, 0.02)[:, None])
        amount = 10 ** (-self._between(size, 0, 18) / 20) * self._happens(size, 0.55)
        room = room / (room.pow(2).sum(-1, keepdim=True).sqrt() + 1e-6) * amount[:, None]
        room[:, 0] = 1
        effort = torch.where(loud, self._between(size, 0.6, 1.3), torch.zeros(size, device=self.device))
        colour = self._curve(size, hertz.shape[1], 3.0) * (hertz / 1000).clamp(min=1) ** effort[:, None]
        return torch.fft.irfft(torch.fft.rfft(sound, points) * torch.fft.rfft(room, points) * colour, points)[
            :, :samples
        ]

    def plant_noise(self, sound: Tensor, loud: Tensor) -> Tensor:
        """Coloured flow noise; by shares of the clips rumble, hum, gear whine, babble, knocks; power one.

        Rumble (harmonics of 20 to 62 Hz, as of a pump): a sixth of all clips and half of the shouted.
        """
        size, samples = sound.shape
        points = samples + _TAIL
        hertz = torch.linspace(0, RATE / 2, points // 2 + 1, device=self.device)[None]
        clock = torch.arange(samples, device=self.device)[None] / RATE
        slope = (hertz.clamp(min=20) / 1000) ** (-self._between(size, 0, 1.1)[:, None])
        flow = torch.fft.irfft(
            torch.fft.rfft(torch.randn(size, points, device=self.device))
            * slope
            * self._curve(size, hertz.shape[1], 4.0),
            points,
        )[:, :samples]
        swing = torch.sin(
            2 * math.pi * (self._between(size, 0.2, 8)[:, None] * clock + self._between(size, 0, 1)[:, None])
        )
        noise = (
            _unit(flow * (1 + 0.6 * self._between(size, 0, 1)[:, None] * swing))
            * self._between(size, 0.3, 1)[:, None]
        )
        pitch = torch.where(
            self._happens(size, 0.5), self._between(size, 48, 62), self._between(size, 80, 400)
        )
        noise = noise + self._share(size, 0.3) * _unit(self._harmonics(pitch, clock, 9))
        rumbles = self._happens(size, 0.16) | (loud & self._happens(size, 0.5))
        rumble = _unit(self._harmonics(self._between(size, 20, 62), clock, 16))
        noise = noise + (rumbles * self._between(size, 0.5, 1.8))[:, None] * rumble
        whine = self._between(size, 300, 2500)
        moved = 1 + self._between(size, 0.2, 0.9)[:, None] * torch.sin(
            2 * math.pi * self._between(size, 15, 60)[:, None] * clock
        )
        noise = noise + self._share(size, 0.2) * _unit(self._harmonics(whine, clock, 3) * moved)
        babble = sum(
            (self._another(sound) * self._between(size, 0.3, 1)[:, None] for _ in range(5)),
            torch.zeros_like(sound),
        )
        noise = noise + self._share(size, 0.2) * _unit(babble)
        return _unit(noise + self._share(size, 0.2) * _unit(self._knocks(size, samples)))

    def _share(self, size: int, share: float) -> Tensor:
        return (self._happens(size, share) * self._between(size, 0.2, 1))[:, None]

    def _harmonics(self, pitch: Tensor, clock: Tensor, count: int) -> Tensor:
        size, angle = len(pitch), 2 * math.pi * pitch[:, None] * clock
        waves = (
            torch.sin(k * angle + self._between(size, 0, 6.28)[:, None])
            * (self._between(size, 0, 1) / k)[:, None]
            for k in range(1, count)
        )
        return sum(waves, torch.zeros_like(angle))

    def _knocks(self, size: int, samples: int) -> Tensor:
        points = samples + _TAIL
        hits = torch.randn(size, samples, device=self.device) * self._happens(size * samples, 2e-4).view(
            size, samples
        )
        ring = torch.exp(-torch.arange(800, device=self.device) / self._between(1, 20, 300)) * torch.randn(
            800, device=self.device
        )
        return torch.fft.irfft(torch.fft.rfft(hits, points) * torch.fft.rfft(ring[None], points), points)[
            :, :samples
        ]

    def bursts(self, sound: Tensor, inside: Tensor) -> Tensor:
        """Lone bangs and hisses of 0.05 to 0.6 s before or behind the words of a quarter of the clips; else zero."""
        size, samples = sound.shape
        clock = torch.arange(samples, device=self.device)[None] / RATE
        seconds = samples / RATE
        found = torch.zeros_like(sound)
        for share in (0.25, 0.08):
            begin = self._between(size, 0, seconds)[:, None]
            since = clock - begin
            length = self._between(size, 0.05, 0.6)[:, None]
            fade = self._between(size, 0.0, 12.0)[:, None]
            shape = ((since >= 0) & (since < length)) * torch.exp(-fade * since.clamp(min=0))
            ring = torch.sin(2 * math.pi * self._between(size, 200, 4000)[:, None] * clock)
            noise = torch.randn(size, samples, device=self.device)
            rings = self._happens(size, 0.3)[:, None]
            bang = torch.where(rings, noise * 0.4 + ring, noise) * shape * self._happens(size, share)[:, None]
            found = found + bang * 10 ** (self._between(size, -24, 6) / 20)[:, None]
        return found * ~inside

    def _another(self, sound: Tensor) -> Tensor:
        """Another clip of the batch at another time."""
        turned = torch.roll(sound, int(torch.randint(1, max(2, len(sound)), (1,))), 0)
        return torch.roll(turned, int(torch.randint(sound.shape[1], (1,))), 1)

    def _talker(self, sound: Tensor) -> Tensor:
        """One other talker; in half of the batches without pauses, so that no word is left uncovered."""
        other = self._another(sound)
        if torch.rand(()) < 0.5:
            return other
        silent = other.abs() < 1e-4
        return torch.where(silent, torch.roll(other, sound.shape[1] // 2, 1), other)

    def _ratio(self, size: int, loud: Tensor) -> Tensor:
        """Signal to noise in dB: a quarter 25 to 55, a sixth -4 to 3, the rest 0 to 25; shouted -2 to 12."""
        draw = torch.rand(size, device=self.device)
        usual = torch.where(draw < 0.25, self._between(size, 25, 55), self._between(size, 0, 25))
        usual = torch.where(draw > 0.84, self._between(size, -4, 3), usual)
        return torch.where(loud, self._between(size, -2, 12), usual)

    def microphone(self, sound: Tensor) -> Tensor:
        """A response curve and band limits; an eighth muffled, an eighth by telephone (300 to 3400 Hz, mu-law)."""
        size, samples = sound.shape
        points = samples + _TAIL
        hertz = torch.linspace(0, RATE / 2, points // 2 + 1, device=self.device)[None]
        draw = torch.rand(size, device=self.device)
        muffled, phone = draw < 0.12, (draw > 0.12) & (draw < 0.24)
        high = torch.where(
            self._happens(size, 0.15), self._between(size, 3300, 6500), self._between(size, 7000, 9000)
        )
        low = torch.where(self._happens(size, 0.3), self._between(size, 60, 350), self._between(size, 5, 50))
        high, low = (
            torch.where(phone, self._between(size, 3200, 3600), high),
            torch.where(phone, self._between(size, 250, 350), low),
        )
        gain = self._curve(size, hertz.shape[1], 2.5) / (1 + (hertz / high[:, None]) ** 16).sqrt()
        gain = gain / (1 + (low[:, None] / hertz.clamp(min=1)) ** 4).sqrt()
        corner, ring = self._between(size, 1100, 2200)[:, None], self._between(size, 1.5, 4)[:, None]
        ratio = hertz / corner
        mask = (
            1
            / ((1 - ratio**2) ** 2 + (ratio / ring) ** 2).sqrt()
            / (1 + (hertz / self._between(size, 1500, 3500)[:, None]) ** 4).sqrt()
        )
        gain = torch.where(muffled[:, None], gain * mask, gain)
        heard = torch.fft.irfft(torch.fft.rfft(sound, points) * gain, points)[:, :samples]
        return torch.where(phone[:, None], _mu_law(heard), heard)

    def energies(self, sound: Tensor, total: Tensor) -> tuple[Tensor, Tensor]:
        """Level, rounding, Kaldi's front end with moved formants (0.80 to 1.22), a few masked bands and times."""
        size = len(sound)
        sound = self._overloaded(sound)
        power = sound.pow(2).mean(-1, keepdim=True).sqrt() + 1e-6
        level = 32_768 * 10 ** (self._between(size, -46, -11) / 20)
        sound = (sound / power * level[:, None]).round().clamp(-32_768, 32_767)
        spectrum = network.power_spectrum(sound, self._window)
        plain = torch.full((size,), len(_WARPS), device=self.device)
        warp = torch.where(
            self._happens(size, 0.25), plain, torch.randint(0, len(_WARPS), (size,), device=self.device)
        )
        energies = torch.log(torch.clamp(torch.bmm(spectrum, self._bands[warp]), min=1.1920929e-07))
        energies = self._smoothed(energies)
        frames = (total - network.WINDOW) // network.HOP + 1
        return self._masked(energies, frames), frames

    def _overloaded(self, sound: Tensor) -> Tensor:
        """A fourteenth: peaks cut at a quarter to three quarters of the highest."""
        size = len(sound)
        peak = sound.abs().amax(-1, keepdim=True)
        most = peak * torch.where(self._happens(size, 0.07), self._between(size, 0.25, 0.75), 1.0)[:, None]
        return torch.clamp(sound, -most, most)

    def _smoothed(self, energies: Tensor) -> Tensor:
        """An eighth: log energies averaged over a few frames and bands, as voices made from statistics are."""
        size = len(energies)
        flat = energies[:, None]
        for _ in range(2):
            longer = F.pad(flat, (0, 0, 1, 1), mode="replicate")
            flat = (longer[:, :, :-2] + 2 * flat + longer[:, :, 2:]) / 4
        wider = F.pad(flat, (1, 1, 0, 0), mode="replicate")
        wide = (wider[..., :-2] + 2 * flat + wider[..., 2:]) / 4
        narrow_or_wide = torch.where(self._happens(size, 0.5)[:, None, None], flat[:, 0], wide[:, 0])
        return torch.where(self._happens(size, 0.12)[:, None, None], narrow_or_wide, energies)

    def _masked(self, energies: Tensor, frames: Tensor) -> Tensor:
        size = len(energies)
        band = torch.arange(network.BANDS, device=self.device)[None]
        time = torch.arange(energies.shape[1], device=self.device)[None]
        for _ in range(2):
            wide, low = self._between(size, 0, 6) * self._happens(size, 0.5), self._between(size, 0, 36)
            hidden = (band >= low[:, None]) & (band < (low + wide)[:, None])
            energies = energies.masked_fill(hidden[:, None, :], network.FLOOR)
            wide, low = (
                self._between(size, 0, 9) * self._happens(size, 0.4),
                self._between(size, 0, 1) * frames,
            )
            hidden = (time >= low[:, None]) & (time < (low + wide)[:, None])
            energies = energies.masked_fill(hidden[:, :, None], network.FLOOR)
        return energies

    def __call__(self, audio: Tensor, start: Tensor, length: Tensor) -> Batch:
        """One batch of clips out of the store `audio` (int16), changed."""
        sound, inside, total, padded = self.place(audio, start, length)
        size = len(sound)
        loud = self._happens(size, 0.2)
        sound = self.spoken_in_a_room(sound, loud)
        speech = ((sound.pow(2) * inside).sum(-1) / inside.sum(-1).clamp(min=1)).sqrt()
        other = self._talker(sound) / (self._another_level(sound) + 1e-6)[:, None]
        below = 10 ** (-self._between(size, 1, 14) / 20) * self._happens(size, 0.3)
        noise = self.plant_noise(sound, loud) * 10 ** (-self._ratio(size, loud) / 20)[:, None]
        noise = noise * ~self._happens(size, 0.05)[:, None]
        noise = noise + self.bursts(sound, inside)
        sound = self.microphone(sound + (other * below[:, None] + noise) * speech[:, None])
        energies, frames = self.energies(sound, total)
        return Batch(energies, frames, padded)

    def _another_level(self, sound: Tensor) -> Tensor:
        """The usual level of a talker in this batch: the mean power of what sounds, for all alike."""
        active = sound.abs() > 1e-4
        mean = (sound.pow(2) * active).sum(-1) / active.sum(-1).clamp(min=1)
        return mean.sqrt().mean().expand(len(sound))


def _unit(sound: Tensor) -> Tensor:
    return sound / (sound.pow(2).mean(-1, keepdim=True).sqrt() + 1e-6)


def _mu_law(sound: Tensor) -> Tensor:
    """Eight bits on the curve of ITU-T G.711 (mu 255), the peak at full scale."""
    peak = sound.abs().amax(-1, keepdim=True) + 1e-6
    bent = torch.sign(sound) * torch.log1p(255 * (sound / peak).abs()) / math.log(256)
    steps = torch.round(bent * 127) / 127
    return torch.sign(steps) * (torch.exp(steps.abs() * math.log(256)) - 1) / 255 * peak
