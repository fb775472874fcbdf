"""Reads and writes `am/final.mdl`: Kaldi's transition model and nnet3 network, with 16-bit matrices.

Layout: FORMAT.md in this folder. Batch norm and input normalisation are folded into the convolutions; the
first layer turns MFCC back into log mel energies by the transposed DCT.
"""

import struct
from collections.abc import Iterable
from pathlib import Path
from typing import Any, Final

import numpy as np
import torch
from torch import nn

from speech import phones
from speech.training import network

_SMALLEST: Final = 1024  # elements; smaller matrices keep their floats
Array = np.ndarray[Any, Any]


class _Writer:
    """Kaldi's binary primitives, little endian."""

    def __init__(self) -> None:
        self.out = bytearray(b"\0B")

    def token(self, *names: str) -> "_Writer":
        for name in names:
            self.out += name.encode() + b" "
        return self

    def whole(self, *values: int) -> "_Writer":
        for value in values:
            self.out += b"\x04" + struct.pack("<i", value)
        return self

    def real(self, *values: float) -> "_Writer":
        for value in values:
            self.out += b"\x04" + struct.pack("<f", value)
        return self

    def wholes(self, values: Iterable[int]) -> "_Writer":
        listed = np.asarray(list(values), "<i4")
        self.out += b"\x04" + struct.pack("<i", len(listed)) + listed.tobytes()
        return self

    def vector(self, values: Array) -> "_Writer":
        self.token("FV").whole(len(values))
        self.out += np.asarray(values, "<f4").tobytes()
        return self

    def matrix(self, values: Array) -> "_Writer":
        rows, columns = values.shape
        if values.size < _SMALLEST:
            self.token("FM").whole(rows, columns)
            self.out += np.asarray(values, "<f4").tobytes()
            return self
        low = np.float32(values.min())
        span = np.float32(values.max() - values.min())
        steps = np.clip(np.rint((values - low) / span * 65_535), 0, 65_535).astype("<u2")
        self.token("CM2").out += struct.pack("<ffii", low, span, rows, columns) + steps.tobytes()
        return self


def _transitions(w: _Writer) -> None:
    count = len(phones.OUTPUT_PAIRS)
    w.token("<TransitionModel>", "<Topology>").wholes(range(1, count + 1)).wholes([-1] + [0] * count)
    w.whole(-1, 1, 2)  # forward and self-loop classes; one entry; two states
    w.whole(0, 1, 2, 0).real(0.5).whole(1).real(0.5).whole(-1, -1, 0)
    w.token("</Topology>", "<Tuples>").whole(count)
    for number, (first, further) in enumerate(phones.OUTPUT_PAIRS, start=1):
        w.whole(number, 0, first, further)
    w.token("</Tuples>", "<LogProbs>").vector(np.array([0.0] + [np.log(0.5)] * (2 * count)))
    w.token("</LogProbs>", "</TransitionModel>")


def _affine(w: _Writer, name: str, matrix: Array, bias: Array) -> None:
    w.token("<ComponentName>", name, "<NaturalGradientAffineComponent>", "<LearningRate>").real(0.0)
    w.token("<LinearParams>").matrix(matrix).token("<BiasParams>").vector(bias)
    w.token("<RankIn>").whole(20).token("<RankOut>").whole(80).token("<UpdatePeriod>").whole(4)
    w.token("<NumSamplesHistory>").real(2000.0).token("<Alpha>").real(4.0)
    w.token("</NaturalGradientAffineComponent>")


def _relu(w: _Writer, name: str, size: int) -> None:
    empty, zero = np.zeros(0), b"\x08" + struct.pack("<d", 0.0)
    w.token("<ComponentName>", name, "<RectifiedLinearComponent>", "<Dim>").whole(size)
    w.token("<ValueAvg>").vector(empty).token("<DerivAvg>").vector(empty).token("<Count>").out += zero
    w.token("<OderivRms>").vector(empty).token("<OderivCount>").out += zero
    w.token("<NumDimsSelfRepaired>").out += zero
    w.token("<NumDimsProcessed>").out += zero
    w.token("</RectifiedLinearComponent>")


def _sum(w: _Writer, name: str, size: int) -> None:
    w.token("<ComponentName>", name, "<NoOpComponent>", "<Dim>").whole(size)
    w.token("<BackpropScale>").real(1.0).token("</NoOpComponent>")


def _folded(layer: network.Layer) -> tuple[Array, Array]:
    """Convolution and batch norm as one matrix over the appended frames, and its bias."""
    norm = layer.norm
    gain = norm.weight.detach().double() / torch.sqrt(norm.running_var.double() + norm.eps)  # type: ignore[union-attr, operator] # a buffer
    weight = layer.conv.weight.detach().double() * gain[:, None, None]
    mean = norm.running_mean.double()  # type: ignore[union-attr, operator] # a buffer
    bias = (layer.conv.bias.detach().double() - mean) * gain + norm.bias.detach().double()  # type: ignore[union-attr] # it has one
    return weight.permute(0, 2, 1).reshape(len(weight), -1).numpy(), bias.numpy()


def write_model(model: network.Network, path: Path) -> None:
    """The network as `final.mdl`, ready for Vosk."""
    model = model.eval().cpu()
    lines, parts = ["input-node name=input dim=40"], _Writer()
    parts.out.clear()

    def node(name: str, source: str) -> None:
        lines.append(f"component-node name={name} component={name} input={source}")

    node("idct", "input")
    parts.token("<ComponentName>", "idct", "<FixedAffineComponent>", "<LinearParams>")
    parts.matrix(network.cosine_matrix().T).token("<BiasParams>").vector(np.full(40, -network.FLOOR))
    parts.token("</FixedAffineComponent>")
    node("floor", "idct")
    _relu(parts, "floor", 40)
    at, count = "floor", 2
    layers: list[network.Layer] = [*model.front, *model.body]  # type: ignore[list-item] # module lists hold modules
    for index, layer in enumerate(layers):
        matrix, bias = _folded(layer)
        if index == 0:
            scale, mean = (
                np.tile(model.scale.numpy(), 3).astype(float),
                np.tile(model.mean.numpy(), 3).astype(float),
            )
            bias, matrix = bias - matrix @ (mean * scale), matrix * scale
        away = layer.dilation * (1 if index < len(model.front) else 3)
        node(f"a{index}", f"Append(Offset({at}, {-away}), {at}, Offset({at}, {away}))")
        _affine(parts, f"a{index}", matrix, bias)
        node(f"r{index}", f"a{index}")
        _relu(parts, f"r{index}", len(bias))
        count += 2
        if layer.residual:
            node(f"x{index}", f"Sum({at}, r{index})")
            _sum(parts, f"x{index}", len(bias))
            count += 1
        at = f"{'x' if layer.residual else 'r'}{index}"
    node("out", at)
    _affine(parts, "out", model.out.weight.detach().numpy()[:, :, 0], model.out.bias.detach().numpy())  # type: ignore[union-attr] # it has one
    lines.append("output-node name=output input=out objective=linear")
    w = _Writer()
    _transitions(w)
    w.token("<Nnet3>").out += ("\n" + "\n".join(lines) + "\n\n").encode()
    w.token("<NumComponents>").whole(count + 1).out += parts.out
    w.token("</Nnet3>", "<LeftContext>").whole(model.context).token("<RightContext>").whole(model.context)
    w.token("<Priors>").vector(np.zeros(0))
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(bytes(w.out))


def _matrix_at(raw: bytes, at: int) -> tuple[Array, int]:
    """The matrix that begins at `at` (FM or CM2), and where it ends."""
    if raw[at : at + 4] == b"CM2 ":
        low, span, rows, columns = struct.unpack_from("<ffii", raw, at + 4)
        end = at + 20 + 2 * rows * columns
        steps = np.frombuffer(raw, "<u2", rows * columns, at + 20).astype(np.float32)
        return (low + span * steps / 65_535).reshape(rows, columns), end
    rows, columns = (struct.unpack_from("<i", raw, at + k)[0] for k in (4, 9))
    return np.frombuffer(raw, "<f4", rows * columns, at + 13).reshape(
        rows, columns
    ), at + 13 + 4 * rows * columns


def _affines(raw: bytes) -> list[tuple[Array, Array]]:
    """Matrix and bias of every trained component, in order."""
    found, mark = [], b"<NaturalGradientAffineComponent> "
    at = raw.find(mark)
    while at >= 0:
        matrix, end = _matrix_at(raw, raw.index(b"<LinearParams> ", at) + 15)
        length = struct.unpack_from("<i", raw, end + len(b"<BiasParams> FV ") + 1)[0]
        bias = np.frombuffer(raw, "<f4", length, end + len(b"<BiasParams> FV ") + 5)
        found.append((matrix, bias))
        at = raw.find(mark, end)
    return found


def read_model(path: Path) -> network.Network:
    """A network with the weights of a `final.mdl` that `write_model` (or its forerunner) wrote.

    The norms come back as identities; `settle` must give them the statistics of real sound before training.
    """
    model, affines = network.Network(), _affines(path.read_bytes())
    layers: list[network.Layer] = [*model.front, *model.body]  # type: ignore[list-item] # module lists hold modules
    for index, (layer, (matrix, bias)) in enumerate(zip(layers, affines[:-1], strict=True)):
        weight, shift = matrix.astype(np.float64), bias.astype(np.float64)
        if index == 0:
            scale, mean = np.tile(model.scale.numpy(), 3), np.tile(model.mean.numpy(), 3)
            weight = weight / scale
            shift = shift + weight @ (mean * scale)
        out, into = layer.conv.weight.shape[:2]
        layer.conv.weight.data = (
            torch.tensor(weight.reshape(out, 3, into)).permute(0, 2, 1).float().contiguous()
        )
        layer.conv.bias.data = torch.tensor(shift).float()  # type: ignore[union-attr] # it has one
        layer.norm.running_var.fill_(1 - layer.norm.eps)  # type: ignore[union-attr, operator] # a buffer
    matrix, bias = affines[-1]
    model.out.weight.data = torch.tensor(matrix.copy())[:, :, None].float()
    model.out.bias.data = torch.tensor(bias.copy()).float()
    return model


@torch.no_grad()
def settle(model: network.Network, energies: torch.Tensor) -> None:
    """Give each norm the statistics of these energies without changing what the network computes."""
    model.eval()
    for layer in model.modules():
        if not isinstance(layer, network.Layer):
            continue
        seen: list[torch.Tensor] = []
        hook = layer.conv.register_forward_hook(lambda _m, _i, out, seen=seen: seen.append(out))
        model(energies)
        hook.remove()
        mean, spread = seen[0].mean((0, 2)), seen[0].var((0, 2)).clamp(min=1e-4)
        norm: nn.BatchNorm1d = layer.norm
        norm.running_mean.copy_(mean)  # type: ignore[union-attr] # a buffer
        norm.running_var.copy_(spread)  # type: ignore[union-attr] # a buffer
        norm.weight.data = torch.sqrt(spread + norm.eps)
        norm.bias.data = mean.clone()
