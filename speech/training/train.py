"""Trains the network for a stated time, from nothing or from an earlier model.

    python -m speech.training.train CLIPS OUT.pt SECONDS --vocabulary V.json
        [--start MODEL.mdl | --resume X.pt]

On several GPUs: `torchrun --nproc-per-node N -m speech.training.train ...`, each with its own part of every draw.
Without `--start` or `--resume` the first 30 % of the time use the numerator over normalised scores alone.
What is saved is a running mean of the weights, which decodes better than the last step.
"""

import argparse
import math
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any, Final

import numpy as np
import torch
import torch.nn.functional as F  # noqa: N812 - the name everybody uses

from speech.training.clip_store import ClipStore, Drawn, phone_bigram, read_pronunciations
from speech.training.fellows import Fellows
from speech.training.kaldi_model import read_model, settle
from speech.training.losses import denominator, numerator
from speech.training.network import Network
from speech.training.sound_changes import SoundChanges

SHARES: Final = {"espeak": 0.19, "flite": 0.22, "hibari": 0.19, "kokoro": 0.40}
_WARM_SHARE: Final = 0.3
_FRAME_BUCKET: Final = 16
_REPORT_S: Final = 20.0
_KEEP_S: Final = 120.0


def _tensors(drawn: Drawn, device: str) -> tuple[torch.Tensor, ...]:
    parts = (drawn.start, drawn.length, drawn.sounds, drawn.optional, drawn.count)
    return tuple(torch.from_numpy(part).to(device, non_blocking=True) for part in parts)


class Averaged:
    """A running mean of all weights and statistics."""

    def __init__(self, model: Network, keep: float = 0.999) -> None:
        self.keep, self.steps = keep, 0
        self.weights = {name: value.detach().clone() for name, value in model.state_dict().items()}

    @torch.no_grad()
    def add(self, model: Network) -> None:
        """Take in the weights of one step."""
        self.steps += 1
        keep = min(self.keep, (self.steps + 1) / (self.steps + 20))
        present = model.state_dict()
        names = [name for name, value in self.weights.items() if value.is_floating_point()]
        torch._foreach_mul_([self.weights[n] for n in names], keep)
        torch._foreach_add_(
            [self.weights[n] for n in names], [present[n].detach() for n in names], alpha=1 - keep
        )

    def save(self, path: Path) -> None:
        """Matrices in 16 bits: half the size, no visible change."""
        torch.save({n: v.half() if v.ndim > 1 else v for n, v in self.weights.items()}, path)


class Trainer:
    """One run: store, changes, network, optimiser."""

    def __init__(self, options: argparse.Namespace) -> None:
        self.options = options
        self.fellows = Fellows()
        self.device = "cuda" if torch.cuda.is_available() else "cpu"
        torch.manual_seed(1000 * self.fellows.rank + options.seed)
        chance = np.random.default_rng(options.seed)
        pronunciations = read_pronunciations(options.vocabulary)
        self.store = ClipStore(pronunciations, SHARES, chance, self.device)
        self._wait_for_clips()
        self.changes = SoundChanges(self.device)
        made = phone_bigram(self.store)
        self.bigram, self.first, self.ending = (
            torch.tensor(m, dtype=torch.float32, device=self.device) for m in made
        )
        self.model = self._begin()
        self.mean = Averaged(self.model)
        heavy = [p for p in self.model.parameters() if p.ndim > 1]
        light = [p for p in self.model.parameters() if p.ndim <= 1]
        groups: list[dict[str, Any]] = [
            {"params": heavy, "weight_decay": 1e-2},
            {"params": light, "weight_decay": 0.0},
        ]
        self.optimiser = torch.optim.AdamW(groups, lr=options.lr, betas=(0.9, 0.98))

    def _wait_for_clips(self) -> None:
        for _ in range(90):
            self.store.refresh(self.options.clips)
            if len(self.store.starts) > 4 * self.options.batch:
                return
            time.sleep(2)
        raise SystemExit("no clips to train on")

    def _begin(self) -> Network:
        if self.options.start:
            model = read_model(self.options.start).to(self.device)
            settle(model, self._one_batch_of_energies())
            return model
        model = Network().to(self.device)
        if self.options.resume:
            kept = torch.load(self.options.resume, map_location=self.device)
            model.load_state_dict({n: v.float() if v.is_floating_point() else v for n, v in kept.items()})
        return model

    def _one_batch_of_energies(self) -> torch.Tensor:
        drawn = next(self._batches())
        start, length, *_ = _tensors(drawn, self.device)
        with torch.no_grad():
            return self.changes(self.store.audio, start, length).energies

    def _batches(self) -> Iterator[Drawn]:
        """The part of every draw that this process takes: all draw alike, so that their clips are equally long."""
        return self.store.batches(self.options.batch, part=self.fellows.rank, parts=self.fellows.count)

    def rate(self, done: float, step: int) -> float:
        """Learning rate: up over 400 steps, down along a cosine over the time."""
        wave = 0.5 * (1 + math.cos(math.pi * min(1.0, done)))
        return float(max(self.options.lr * 0.01, self.options.lr * wave * min(1.0, (step + 1) / 400)))

    def step(self, drawn: Drawn, *, warm: bool) -> None:
        """One step; the objective per frame and the gradient's norm are kept in `told`."""
        start, length, sounds, optional, count = _tensors(drawn, self.device)
        with torch.no_grad():
            batch = self.changes(self.store.audio, start, length)
            optional = optional.clone()
            rows = torch.arange(len(count), device=self.device)
            optional[:, 0] = ~batch.padded
            optional[rows, count - 1] = ~batch.padded
        self.model.train()
        with torch.autocast(self.device, dtype=torch.bfloat16):
            scores = self.model(batch.energies)
        frames = ((batch.frames + 2) // 3).clamp(max=scores.shape[1])
        size = scores.shape[1]
        scores = F.pad(scores.float(), (0, 0, 0, -size % _FRAME_BUCKET))
        usable = (frames > count + 2).float()
        total = (frames * usable).sum().clamp(min=1)
        if warm:
            objective = (
                numerator(F.log_softmax(scores, -1), frames, sounds, optional, count) * usable
            ).sum() / total
            loss = -objective
        else:
            right = numerator(scores, frames, sounds, optional, count)
            anything = denominator(scores, frames, self.bigram, self.first, self.ending)
            objective = ((right - anything) * usable).sum() / total
            inside = torch.arange(scores.shape[1], device=self.device)[None] < frames[:, None]
            loss = -objective + 2.5e-4 * (scores.pow(2).sum(-1) * inside * usable[:, None]).sum() / total
        self.optimiser.zero_grad()
        loss.backward()  # type: ignore[no-untyped-call]
        self.fellows.share_gradients(self.model)
        norm = torch.nn.utils.clip_grad_norm_(self.model.parameters(), 1.0)
        self.optimiser.step()
        self.mean.add(self.model)
        self.told = objective.detach(), norm.detach()

    def run(self) -> None:
        """Train until the time is up, saving now and then."""
        began = reported = refreshed = kept = time.monotonic()
        step, seconds = 0, self.options.seconds
        scratch = not (self.options.start or self.options.resume)
        done = 0.0
        while done < 1:
            for drawn in self._batches():
                done = self.fellows.agreed((time.monotonic() - began) / seconds)
                if done >= 1 or step >= self.options.most_steps:
                    break
                for group in self.optimiser.param_groups:
                    group["lr"] = self.rate(self.options.done + (1 - self.options.done) * done, step)
                self.step(drawn, warm=scratch and done < _WARM_SHARE)
                step += 1
                now = time.monotonic()
                if now - kept > _KEEP_S:
                    kept = now
                    self.save()
                if now - reported > _REPORT_S or step == 1:
                    reported = now
                    objective, norm = (float(v) for v in self.told)
                    sys.stderr.write(
                        f"{now - began:6.0f} s step {step} objective {objective:.4f} norm {norm:.2f}\n"
                    )
                if now - refreshed > self.options.refresh:
                    refreshed = now
                    if self.store.refresh(self.options.clips):
                        sys.stderr.write(f"hours {self.store.hours()}\n")
                        break
            if step >= self.options.most_steps:
                break
        self.save()
        sys.stderr.write(f"{step} steps in {time.monotonic() - began:.0f} s, hours {self.store.hours()}\n")

    def save(self) -> None:
        """Keep the running mean; of several processes the first does it."""
        if self.fellows.rank == 0:
            self.mean.save(self.options.out)


def main() -> None:
    """The command line of the docstring."""
    parser = argparse.ArgumentParser()
    parser.add_argument("clips", type=Path)
    parser.add_argument("out", type=Path)
    parser.add_argument("seconds", type=float)
    parser.add_argument("--vocabulary", type=Path, required=True)
    parser.add_argument("--start", type=Path, help="a final.mdl to go on from")
    parser.add_argument("--resume", type=Path, help="weights saved by this program")
    parser.add_argument(
        "--done", type=float, default=0.0, help="share of the learning-rate curve already behind"
    )
    parser.add_argument("--lr", type=float, default=1.5e-3)
    parser.add_argument("--batch", type=int, default=384)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--refresh", type=float, default=30.0)
    parser.add_argument("--most-steps", type=int, default=10**9)
    Trainer(parser.parse_args()).run()


if __name__ == "__main__":
    main()
