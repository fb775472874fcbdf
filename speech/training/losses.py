"""Lattice-free MMI over full alignments: the right sounds against a bigram of sounds.

The numerator sums over every alignment of the sentence's sounds (silence between words is optional), the
denominator over every way through a phone bigram; Povey et al., "Purely sequence-trained neural networks for
ASR based on lattice-free MMI", Interspeech 2016. Both run forward and backward without autograd, and hand the
occupancies over as the gradient: a step costs two sweeps of small operations instead of a recorded graph.
On a GPU a sweep is captured once for each shape and replayed.
"""

from collections.abc import Callable
from typing import Any, Final

import torch
import torch.nn.functional as F  # noqa: N812 - the name everybody uses
from torch import Tensor

NEVER: Final = -1e5
_Sweep = Callable[..., Tensor]
_captured: dict[Any, tuple[Any, list[Tensor], Tensor]] = {}


def _run(sweep: _Sweep, *inputs: Tensor) -> Tensor:
    """The sweep's result; on a GPU through a graph captured for these shapes. Valid until the next call."""
    if not inputs[0].is_cuda:
        return sweep(*inputs)
    key = (sweep, *(tuple(i.shape) for i in inputs))
    if key not in _captured:
        fixed = [i.clone() for i in inputs]
        sweep(*fixed)
        torch.cuda.synchronize()
        graph = torch.cuda.CUDAGraph()
        with torch.cuda.graph(graph, capture_error_mode="thread_local"):
            out = sweep(*fixed)
        _captured[key] = graph, fixed, out
    graph, fixed, out = _captured[key]
    for place, value in zip(fixed, inputs, strict=True):
        place.copy_(value)
    graph.replay()
    return out


def _forward(first: Tensor, further: Tensor, skip: Tensor, start: Tensor) -> Tensor:
    """Alpha [B, T, S]: log sum over alignments that are in a state at a frame, that frame included."""
    out = torch.empty_like(first)
    alpha = start + first[:, 0]
    out[:, 0] = alpha
    for step in range(1, first.shape[1]):
        one = F.pad(alpha[:, :-1], (1, 0), value=NEVER)
        two = F.pad(alpha[:, :-2], (2, 0), value=NEVER) + skip
        alpha = torch.logaddexp(torch.logaddexp(one, two) + first[:, step], alpha + further[:, step])
        out[:, step] = alpha
    return out


def _backward(first: Tensor, further: Tensor, skip: Tensor, ending: Tensor, last: Tensor) -> Tensor:
    """Beta [B, T, S]: log sum over the rest of the alignments after a frame; `last` [B] is the last frame."""
    out = torch.empty_like(first)
    beta = torch.full_like(ending, NEVER)
    for step in range(first.shape[1] - 1, -1, -1):
        if step < first.shape[1] - 1:
            entered = beta + first[:, step + 1]
            one = F.pad(entered[:, 1:], (0, 1), value=NEVER)
            two = F.pad((entered + skip)[:, 2:], (0, 2), value=NEVER)
            beta = torch.logaddexp(torch.logaddexp(one, two), beta + further[:, step + 1])
        beta = torch.where((last == step)[:, None], ending, beta)
        out[:, step] = beta
    return out


class _Numerator(torch.autograd.Function):
    """Scores -> log sum over alignments, with the occupancies as its gradient."""

    @staticmethod
    def forward(ctx: Any, scores: Tensor, frames: Tensor, *labels: Tensor) -> Tensor:  # noqa: ANN401 - PyTorch
        sounds, optional, count = labels
        size, steps, _ = scores.shape
        rows, states = torch.arange(size, device=scores.device), sounds.shape[1]
        index = (2 * sounds)[:, None].expand(size, steps, states)
        first, further = scores.gather(2, index), scores.gather(2, index + 1)
        skip = torch.full((size, states), NEVER, device=scores.device)
        skip[:, 2:] = torch.where(optional[:, 1:-1], 0.0, NEVER)
        start = torch.full((size, states), NEVER, device=scores.device)
        start[:, 0] = 0
        start[:, 1] = torch.where(optional[:, 0], 0.0, NEVER)
        ending = torch.full((size, states), NEVER, device=scores.device)
        ending[rows, count - 2] = torch.where(optional[rows, count - 1], 0.0, NEVER)
        ending[rows, count - 1] = 0
        alpha = _run(_forward, first, further, skip, start)
        beta = _run(_backward, first, further, skip, ending, frames - 1)
        total = torch.logsumexp(alpha[rows, frames - 1] + ending, -1)
        before = F.pad(alpha[:, :-1], (0, 0, 1, 0), value=NEVER)
        one = F.pad(before[..., :-1], (1, 0), value=NEVER)
        two = F.pad(before[..., :-2], (2, 0), value=NEVER) + skip[:, None]
        into = torch.logaddexp(one, two)
        into[:, 0] = start
        inside = (torch.arange(steps, device=scores.device)[None] < frames[:, None])[..., None]
        rest = beta - total[:, None, None]
        entered = torch.where(inside, torch.exp((into + first + rest).clamp(max=0)), 0.0)
        stayed = torch.where(inside, torch.exp((before + further + rest).clamp(max=0)), 0.0)
        occupied = torch.zeros_like(scores).scatter_add_(2, index, entered).scatter_add_(2, index + 1, stayed)
        ctx.save_for_backward(occupied)
        return total

    @staticmethod
    def backward(ctx: Any, *grads: Tensor) -> Any:  # noqa: ANN401 - PyTorch's own signature
        (occupied,) = ctx.saved_tensors
        return occupied * grads[0][:, None, None], None, None, None, None


def numerator(scores: Tensor, frames: Tensor, sounds: Tensor, optional: Tensor, count: Tensor) -> Tensor:
    """Log sum over the alignments: scores [B, T, 2 K], frames [B], sounds and optional [B, S], count [B]."""
    return _Numerator.apply(scores, frames, sounds, optional, count)  # type: ignore[no-any-return, no-untyped-call]


def _loop_forward(first: Tensor, further: Tensor, bigram: Tensor, start: Tensor) -> Tensor:
    out = torch.empty_like(first)
    alpha = start + first[:, 0]
    out[:, 0] = alpha
    for step in range(1, first.shape[1]):
        top = alpha.max(-1, keepdim=True).values
        entered = torch.log(torch.exp(alpha - top) @ bigram + 1e-30) + top
        alpha = torch.logaddexp(entered + first[:, step], alpha + further[:, step])
        out[:, step] = alpha
    return out


def _loop_backward(first: Tensor, further: Tensor, bigram: Tensor, end: Tensor, last: Tensor) -> Tensor:
    out = torch.empty_like(first)
    beta = end.expand(first.shape[0], -1)
    for step in range(first.shape[1] - 1, -1, -1):
        if step < first.shape[1] - 1:
            entered = beta + first[:, step + 1]
            top = entered.max(-1, keepdim=True).values
            onward = torch.log(torch.exp(entered - top) @ bigram.T + 1e-30) + top
            beta = torch.logaddexp(onward, beta + further[:, step + 1])
        beta = torch.where((last == step)[:, None], end, beta)
        out[:, step] = beta
    return out


class _Denominator(torch.autograd.Function):
    """Scores -> log sum over all ways through the phone bigram, with the occupancies as its gradient."""

    @staticmethod
    def forward(ctx: Any, scores: Tensor, frames: Tensor, *loop: Tensor) -> Tensor:  # noqa: ANN401 - PyTorch
        bigram, start, end = loop
        first, further = scores[..., 0::2].contiguous(), scores[..., 1::2].contiguous()
        rows = torch.arange(scores.shape[0], device=scores.device)
        alpha = _run(_loop_forward, first, further, bigram, start)
        beta = _run(_loop_backward, first, further, bigram, end, frames - 1)
        total = torch.logsumexp(alpha[rows, frames - 1] + end, -1)
        before = alpha[:, :-1]
        top = before.max(-1, keepdim=True).values
        into = torch.log(torch.exp(before - top) @ bigram + 1e-30) + top
        into = torch.cat([start.expand(scores.shape[0], 1, -1), into], 1)
        before = F.pad(before, (0, 0, 1, 0), value=NEVER)
        inside = (torch.arange(scores.shape[1], device=scores.device)[None] < frames[:, None])[..., None]
        rest = beta - total[:, None, None]
        occupied = torch.empty_like(scores)
        occupied[..., 0::2] = torch.where(inside, torch.exp((into + first + rest).clamp(max=0)), 0.0)
        occupied[..., 1::2] = torch.where(inside, torch.exp((before + further + rest).clamp(max=0)), 0.0)
        ctx.save_for_backward(occupied)
        return total

    @staticmethod
    def backward(ctx: Any, *grads: Tensor) -> Any:  # noqa: ANN401 - PyTorch's own signature
        (occupied,) = ctx.saved_tensors
        return occupied * grads[0][:, None, None], None, None, None, None


def denominator(scores: Tensor, frames: Tensor, bigram: Tensor, start: Tensor, end: Tensor) -> Tensor:
    """Log sum over the phone loop: bigram [K, K] in shares, start and end [K] in nats."""
    return _Denominator.apply(scores, frames, bigram, start, end)  # type: ignore[no-any-return, no-untyped-call]
