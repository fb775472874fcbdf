"""The acoustic network in PyTorch, with a front end equal to Kaldi's.

Three convolutions at 100 frames a second, a stride of three, then ten residual convolutions at 33 frames a
second: 4.1 million weights, 0.48 s of context on either side, 82 outputs (two for each sound).
"""

import math
from typing import Any, Final

import numpy as np
import torch
import torch.nn.functional as F  # noqa: N812 - the name everybody uses
from torch import Tensor, nn

from speech.phones import OUTPUTS

RATE, WINDOW, HOP, POINTS, BANDS, LOWEST, HIGHEST = 16_000, 400, 160, 512, 40, 20.0, 7_600.0
FLOOR: Final = 5.0
"""Log energies are floored here by the first ReLU (int16 samples), so that digital silence does no harm."""
WIDTH: Final = 352
DILATIONS: Final = (1, 1, 1, 1, 1, 2, 2, 2, 2, 2)

Matrix = np.ndarray[Any, np.dtype[np.float32]]


def _mel(hertz: float) -> float:
    return 1127.0 * math.log(1.0 + hertz / 700.0)


def mel_bands(warp: float = 1.0) -> Matrix:
    """Triangles on the mel scale, [257, 40]; a warp other than 1 moves the formants (another speaker)."""
    low, step = _mel(LOWEST), (_mel(HIGHEST) - _mel(LOWEST)) / (BANDS + 1)
    bands = np.zeros((POINTS // 2 + 1, BANDS), np.float32)
    for band in range(BANDS):
        left, centre, right = (low + (band + k) * step for k in range(3))
        for line in range(POINTS // 2):
            at = _mel(line * RATE / POINTS * warp)
            if left < at < right:
                bands[line, band] = (at - left) / step if at <= centre else (right - at) / step
        if not bands[:, band].any():  # a narrow low band that the warp emptied
            hertz = 700 * (math.exp(centre / 1127.0) - 1) / warp
            bands[min(POINTS // 2 - 1, round(hertz * POINTS / RATE)), band] = 0.5
    return bands


def povey_window() -> Matrix:
    """Kaldi's default window."""
    angle = 2 * np.pi * np.arange(WINDOW) / (WINDOW - 1)
    return np.asarray((0.5 - 0.5 * np.cos(angle)) ** 0.85, dtype=np.float32)


def power_spectrum(sound: Tensor, window: Tensor) -> Tensor:
    """Frames of int16-scaled sound [B, N] -> power [B, T, 257]; Kaldi's framing with dither 0, snip-edges."""
    frames = sound.unfold(-1, WINDOW, HOP)
    frames = frames - frames.mean(-1, keepdim=True)
    before = torch.cat([frames[..., :1], frames[..., :-1]], -1)
    spectrum = torch.fft.rfft((frames - 0.97 * before) * window, POINTS)
    return spectrum.real**2 + spectrum.imag**2


def cosine_matrix() -> Matrix:
    """The orthonormal DCT of Kaldi's MFCC with cepstral-lifter 0; its transpose undoes it."""
    at = np.pi / BANDS * (np.arange(BANDS) + 0.5)
    matrix = np.sqrt(2.0 / BANDS) * np.cos(np.outer(np.arange(BANDS), at))
    matrix[0] = np.sqrt(1.0 / BANDS)
    return np.asarray(matrix, dtype=np.float32)


class Layer(nn.Module):
    """Convolution of three frames, batch norm, ReLU, perhaps added to its input."""

    def __init__(self, into: int, out: int, dilation: int, *, residual: bool, drop: float = 0.0) -> None:
        super().__init__()
        self.dilation, self.residual = dilation, residual
        self.conv = nn.Conv1d(into, out, 3, dilation=dilation)
        self.norm = nn.BatchNorm1d(out)
        self.drop = nn.Dropout(drop)

    def forward(self, x: Tensor) -> Tensor:
        """[B, into, T] -> [B, out, T - 2 dilation]."""
        y: Tensor = self.drop(F.relu(self.norm(self.conv(x))))
        if self.residual:
            cut = (x.shape[-1] - y.shape[-1]) // 2
            y = y + x[..., cut : cut + y.shape[-1]]
        return y


class Network(nn.Module):
    """Log mel energies at 100 frames a second -> raw scores of the sounds at 33 frames a second."""

    mean: Tensor
    scale: Tensor

    def __init__(self, width: int = WIDTH, front: int = 192, drop: float = 0.1) -> None:
        super().__init__()
        self.front = nn.ModuleList(
            [
                Layer(BANDS, front, 1, residual=False),
                Layer(front, front, 1, residual=True),
                Layer(front, width, 1, residual=False),
            ]
        )
        self.body = nn.ModuleList([Layer(width, width, d, residual=True, drop=drop) for d in DILATIONS])
        self.out = nn.Conv1d(width, OUTPUTS, 1)
        self.register_buffer("mean", torch.full((BANDS,), 12.0 - FLOOR))
        self.register_buffer("scale", torch.full((BANDS,), 1 / 3.5))
        self.context = 3 + 3 * sum(DILATIONS)

    def forward(self, energies: Tensor) -> Tensor:
        """[B, T, 40] -> [B, ceil(T / 3), 82]; both ends are repeated at the input, as Kaldi does."""
        x = ((torch.relu(energies - FLOOR) - self.mean) * self.scale).transpose(1, 2)
        frames = x.shape[-1]
        out = (frames + 2) // 3
        x = F.pad(x, (self.context, self.context + 3 * (out - 1) + 1 - frames), mode="replicate")
        for layer in self.front:
            x = layer(x)
        x = x[..., ::3]
        for layer in self.body:
            x = layer(x)
        scores: Tensor = self.out(x)
        return scores.transpose(1, 2)
