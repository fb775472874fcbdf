"""Training on several GPUs, one process each: gradients averaged, the clock of the first process for all.

Started by `torchrun`, which sets RANK and WORLD_SIZE; without it there is one process and nothing happens here.
"""

import os

import torch
import torch.distributed as dist
from torch import nn


class Fellows:
    """The processes of one run."""

    def __init__(self) -> None:
        self.rank = int(os.environ.get("RANK", "0"))
        self.count = int(os.environ.get("WORLD_SIZE", "1"))
        if self.count > 1:
            if torch.cuda.is_available():
                torch.cuda.set_device(self.rank)
            dist.init_process_group("cpu:gloo,cuda:nccl" if torch.cuda.is_available() else "gloo")

    def share_gradients(self, model: nn.Module) -> None:
        """The mean of all processes' gradients takes the place of each."""
        if self.count == 1:
            return
        gradients = [p.grad for p in model.parameters() if p.grad is not None]
        together = torch.cat([g.flatten() for g in gradients])
        dist.all_reduce(together)
        together /= self.count
        begin = 0
        for gradient in gradients:
            gradient.copy_(together[begin : begin + gradient.numel()].view_as(gradient))
            begin += gradient.numel()

    def agreed(self, value: float) -> float:
        """The first process's value, in every process."""
        if self.count == 1:
            return value
        shared = torch.tensor([value], dtype=torch.float64)
        dist.broadcast(shared, 0)
        return float(shared)
