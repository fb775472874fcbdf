"""Runs the Kokoro network's ONNX file with PyTorch, so that a GPU can read sentences a hundred times faster.

The file holds 8-bit weights for a CPU. Here they are turned back into floats once and every step runs in
floating point: "dynamic quantisation" hands its input on with a fixed small scale, so the integer products that
follow are ordinary ones. Covers the operators of that one graph, a straight line without loops or branches.
Shapes and other whole numbers stay on the CPU; only sound and features live on the device.
"""

from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any, Final

import numpy as np
import torch
import torch.nn.functional as F  # noqa: N812 - the name everybody uses
from torch import Tensor

_SCALE: Final = 2.0**-10
_TYPES: Final = {1: torch.float32, 6: torch.int32, 7: torch.int64, 9: torch.bool, 10: torch.float32}
_Attributes = Mapping[str, Any]


def _numbers(values: Tensor) -> list[int]:
    return [int(v) for v in values.reshape(-1).tolist()]


def _axis(values: list[Any], index: int, told: _Attributes, name: str = "axes") -> list[int]:
    if len(values) > index and values[index] is not None:
        return _numbers(values[index])
    return list(told.get(name, ()))


def _sliced(made: Tensor, start: int, end: int, axis: int, step: int) -> Tensor:
    """ONNX's Slice along one axis; backwards by turning the axis round."""
    places = range(made.shape[axis])[start:end:step]
    if step == 1:
        return made.narrow(axis, places.start, max(0, len(places)))
    return made.index_select(axis, torch.tensor(list(places), device=made.device))


class OnnxOnTorch:
    """The graph, loaded once. `run` takes named inputs and gives the first output as a float array."""

    def __init__(self, path: Path, device: str) -> None:
        import onnx  # noqa: PLC0415 - a development tool

        self.device = device
        torch.backends.cuda.matmul.allow_tf32 = torch.backends.cudnn.allow_tf32 = True
        graph = onnx.load(str(path)).graph
        self._nodes = [
            (
                node.op_type,
                list(node.input),
                list(node.output),
                {a.name: onnx.helper.get_attribute_value(a) for a in node.attribute},
            )
            for node in graph.node
        ]
        self._output = graph.output[0].name
        self._constants = {i.name: self._constant(onnx.numpy_helper.to_array(i)) for i in graph.initializer}
        self._last = self._last_uses()
        self._prepare_weights(onnx)

    def _constant(self, array: Any) -> Tensor:  # noqa: ANN401 - any numpy array
        made = torch.from_numpy(np.array(array))
        return made.to(self.device) if made.dtype not in (torch.int64, torch.bool) else made

    def _last_uses(self) -> list[list[str]]:
        last: dict[str, int] = {}
        for index, (_, inputs, _, _) in enumerate(self._nodes):
            last.update(dict.fromkeys(inputs, index))
        uses: list[list[str]] = [[] for _ in self._nodes]
        for name, index in last.items():
            if name not in self._constants and name != self._output:
                uses[index].append(name)
        return uses

    def _prepare_weights(self, onnx: Any) -> None:  # noqa: ANN401 - the library has no types
        """Integer weights less their zero point as floats, and LSTMs as PyTorch modules."""
        self._weights: dict[str, Tensor] = {}
        self._recurrent: dict[str, torch.nn.LSTM] = {}
        for kind, inputs, outputs, told in self._nodes:
            if kind in ("ConvInteger", "MatMulInteger") and inputs[1] in self._constants:
                zero = self._constants[inputs[3]].float() if len(inputs) > 3 and inputs[3] else 0.0
                self._weights[inputs[1]] = self._constants[inputs[1]].float() - zero
            if kind == "DynamicQuantizeLSTM":
                self._recurrent[outputs[0]] = self._lstm(inputs, int(told["hidden_size"]))
            if kind == "ConstantOfShape":
                told["value"] = torch.from_numpy(np.array(onnx.numpy_helper.to_array(told["value"])))

    def _lstm(self, inputs: list[str], hidden: int) -> torch.nn.LSTM:
        """ONNX keeps [directions, input, 4 hidden] in the order i o f c; PyTorch [4 hidden, input], i f g o."""

        def real(name: str, scale: str, zero: str) -> Tensor:
            kept = self._constants[name].float()
            steps, shift = self._constants[scale].reshape(-1, 1, 1), self._constants[zero].reshape(-1, 1, 1)
            return (kept - shift.float()) * steps

        order = [0, 2, 3, 1]
        into = real(inputs[1], inputs[8], inputs[9]).transpose(1, 2)
        back = real(inputs[2], inputs[10], inputs[11]).transpose(1, 2)
        bias = self._constants[inputs[3]]
        made = torch.nn.LSTM(into.shape[2], hidden, bidirectional=True).to(self.device)

        def ordered(matrix: Tensor) -> Tensor:
            return torch.cat([matrix.chunk(4)[k] for k in order])

        with torch.no_grad():
            for way, end in enumerate(("", "_reverse")):
                getattr(made, f"weight_ih_l0{end}").copy_(ordered(into[way]))
                getattr(made, f"weight_hh_l0{end}").copy_(ordered(back[way]))
                getattr(made, f"bias_ih_l0{end}").copy_(ordered(bias[way][: 4 * hidden]))
                getattr(made, f"bias_hh_l0{end}").copy_(ordered(bias[way][4 * hidden :]))
        made.flatten_parameters()
        return made

    @torch.no_grad()
    def run(
        self, feed: Mapping[str, Any], changed: Mapping[str, Callable[[Tensor], Tensor]] | None = None
    ) -> np.ndarray[Any, Any]:
        """`changed`: what happens to a named value on its way, such as the pitch curve."""
        values: dict[str, Any] = dict(self._constants)
        values[""] = None
        values.update({name: torch.as_tensor(array).to(self.device) for name, array in feed.items()})
        for (kind, inputs, outputs, told), used in zip(self._nodes, self._last, strict=True):
            given = [values[name] for name in inputs]
            made = getattr(self, f"_do_{kind.lower()}", None)
            result = made(given, told, inputs, outputs) if made else _SIMPLE[kind](*self._together(given))
            results = result if isinstance(result, (tuple, list)) else (result,)
            for name, value in zip(outputs, results, strict=False):
                values[name] = changed[name](value) if changed and name in changed else value
            for name in used:
                values.pop(name, None)
        found: Tensor = values[self._output]
        return found.float().cpu().numpy()

    def _together(self, given: list[Any]) -> list[Any]:
        """All on the device when one is there."""
        if any(g is not None and g.device.type != "cpu" for g in given):
            return [g.to(self.device) if g is not None and g.device.type == "cpu" else g for g in given]
        return given

    # Shapes and whole numbers

    def _do_shape(self, v: list[Any], *_: object) -> Tensor:
        return torch.tensor(v[0].shape)

    def _do_constantofshape(self, v: list[Any], told: _Attributes, *_: object) -> Tensor:
        value = told["value"]
        made = torch.full(_numbers(v[0]), value.item(), dtype=value.dtype)
        return made.to(self.device) if value.is_floating_point() else made

    def _do_cast(self, v: list[Any], told: _Attributes, *_: object) -> Tensor:
        if told["to"] in (6, 7) and v[0].is_floating_point() and v[0].numel() == 1:
            return v[0].cpu().to(_TYPES[told["to"]])
        if told["to"] == 6:  # a bias on its way to integers: kept as it is
            return v[0]
        return v[0].to(_TYPES[told["to"]])

    def _do_range(self, v: list[Any], *_: object) -> Tensor:
        low, high, step = (x.item() for x in v)
        return torch.arange(low, high, step)

    def _do_gather(self, v: list[Any], told: _Attributes, *_: object) -> Tensor:
        data, at = v[0], v[1]
        axis = told.get("axis", 0) % data.ndim
        if at.ndim == 0 and at.device.type == "cpu":
            return data.select(axis, int(at))
        at = at.long().to(data.device)
        found = data.index_select(axis, at.reshape(-1) % data.shape[axis])
        return found.reshape(*data.shape[:axis], *at.shape, *data.shape[axis + 1 :])

    def _do_unsqueeze(self, v: list[Any], told: _Attributes, *_: object) -> Tensor:
        made = v[0]
        rank = made.ndim + len(_axis(v, 1, told))
        for axis in sorted(a % rank for a in _axis(v, 1, told)):
            made = made.unsqueeze(axis)
        return made

    def _do_squeeze(self, v: list[Any], told: _Attributes, *_: object) -> Tensor:
        axes = _axis(v, 1, told)
        return v[0].squeeze(tuple(axes)) if axes else v[0].squeeze()

    def _do_reshape(self, v: list[Any], *_: object) -> Tensor:
        shape = [v[0].shape[k] if n == 0 else n for k, n in enumerate(_numbers(v[1]))]
        return v[0].reshape(shape)

    def _do_expand(self, v: list[Any], *_: object) -> Tensor:
        return v[0].broadcast_to(torch.broadcast_shapes(v[0].shape, tuple(_numbers(v[1]))))

    def _do_slice(self, v: list[Any], told: _Attributes, *_: object) -> Tensor:
        starts, ends = _numbers(v[1]), _numbers(v[2])
        axes = _axis(v, 3, told) or list(range(len(starts)))
        steps = _numbers(v[4]) if len(v) > 4 and v[4] is not None else [1] * len(starts)
        made = v[0]
        for start, end, axis, step in zip(starts, ends, axes, steps, strict=True):
            made = _sliced(made, start, end, axis % made.ndim, step)
        return made

    def _do_split(
        self, v: list[Any], told: _Attributes, _: list[str], outputs: list[str]
    ) -> tuple[Tensor, ...]:
        sizes: Any = (
            _numbers(v[1]) if len(v) > 1 and v[1] is not None else v[0].shape[told["axis"]] // len(outputs)
        )
        return v[0].split(sizes, told["axis"])

    def _do_concat(self, v: list[Any], told: _Attributes, *_: object) -> Tensor:
        return torch.cat(self._together(v), told["axis"])

    def _do_transpose(self, v: list[Any], told: _Attributes, *_: object) -> Tensor:
        return v[0].permute(told["perm"])

    def _do_nonzero(self, v: list[Any], *_: object) -> Tensor:
        return v[0].nonzero().T

    def _do_scatternd(self, v: list[Any], *_: object) -> Tensor:
        data, at, new = self._together(v)
        made = data.clone()
        made[tuple(at.long().unbind(-1))] = new.to(made.dtype)
        return made

    def _do_cumsum(self, v: list[Any], *_: object) -> Tensor:
        return v[0].double().cumsum(int(v[1])).to(v[0].dtype)

    def _do_clip(self, v: list[Any], *_: object) -> Tensor:
        low = float(v[1]) if v[1] is not None else None
        return v[0].clamp(low, float(v[2]) if len(v) > 2 and v[2] is not None else None)

    def _do_div(self, v: list[Any], *_: object) -> Tensor:
        one, two = self._together(v)
        return one / two if one.is_floating_point() else one // two

    # Sums over axes and norms

    def _do_reducemean(self, v: list[Any], told: _Attributes, *_: object) -> Tensor:
        return v[0].mean(_axis(v, 1, told), keepdim=bool(told.get("keepdims", 1)))

    def _do_reducesum(self, v: list[Any], told: _Attributes, *_: object) -> Tensor:
        return v[0].sum(_axis(v, 1, told), keepdim=bool(told.get("keepdims", 1)))

    def _do_softmax(self, v: list[Any], told: _Attributes, *_: object) -> Tensor:
        return v[0].softmax(told.get("axis", -1))

    def _do_layernormalization(self, v: list[Any], told: _Attributes, *_: object) -> Tensor:
        return F.layer_norm(v[0], v[1].shape, v[1], v[2], told["epsilon"])

    def _do_skiplayernormalization(self, v: list[Any], told: _Attributes, *_: object) -> Tensor:
        total = v[0] + v[1] + (v[4] if len(v) > 4 and v[4] is not None else 0.0)
        return F.layer_norm(total, v[2].shape, v[2], v[3], told["epsilon"])

    def _do_fastgelu(self, v: list[Any], *_: object) -> Tensor:
        return F.gelu(v[0] + (v[1] if len(v) > 1 and v[1] is not None else 0.0), approximate="tanh")

    def _do_leakyrelu(self, v: list[Any], told: _Attributes, *_: object) -> Tensor:
        return F.leaky_relu(v[0], told.get("alpha", 0.01))

    # Quantised parts in floating point

    def _do_dynamicquantizelinear(self, v: list[Any], *_: object) -> tuple[Tensor, Tensor, Tensor]:
        scale = torch.tensor(_SCALE, device=self.device)
        return v[0] / _SCALE, scale, torch.zeros((), device=self.device)

    def _do_dequantizelinear(self, v: list[Any], *_: object) -> Tensor:
        zero = v[2].float() if len(v) > 2 and v[2] is not None else 0.0
        return (v[0].float() - zero) * v[1]

    def _do_matmulinteger(self, v: list[Any], _: _Attributes, inputs: list[str], *__: object) -> Tensor:
        weight = self._weights.get(inputs[1])
        return torch.matmul(v[0], v[1] if weight is None else weight)

    def _do_fusedmatmul(self, v: list[Any], told: _Attributes, *_: object) -> Tensor:
        one = v[0].transpose(-1, -2) if told.get("transA") else v[0]
        two = v[1].transpose(-1, -2) if told.get("transB") else v[1]
        return torch.matmul(one, two.to(one.device)) * told.get("alpha", 1.0)

    def _do_convinteger(self, v: list[Any], told: _Attributes, inputs: list[str], *_: object) -> Tensor:
        return self._convolved(v[0], self._weights[inputs[1]], None, told)

    def _do_conv(self, v: list[Any], told: _Attributes, *_: object) -> Tensor:
        return self._convolved(v[0], v[1], v[2] if len(v) > 2 else None, told)

    def _convolved(self, sound: Tensor, weight: Tensor, bias: Tensor | None, told: _Attributes) -> Tensor:
        left, right = told["pads"]
        if left != right:
            sound, left = F.pad(sound, (left, right)), 0
        return F.conv1d(sound, weight, bias, told["strides"], left, told["dilations"], told["group"])

    def _do_convtranspose(self, v: list[Any], told: _Attributes, *_: object) -> Tensor:
        extra = told.get("output_padding", [0])
        bias = v[2] if len(v) > 2 else None
        return F.conv_transpose1d(
            v[0], v[1], bias, told["strides"], told["pads"][0], extra, told["group"], told["dilations"]
        )

    def _do_dynamicquantizelstm(
        self, v: list[Any], _: _Attributes, __: list[str], outputs: list[str]
    ) -> tuple[Tensor, ...]:
        found, (hidden, cell) = self._recurrent[outputs[0]](v[0])
        steps, batch, both = found.shape
        return found.reshape(steps, batch, 2, both // 2).transpose(1, 2), hidden, cell

    # Sound

    def _do_atan(self, v: list[Any], *_: object) -> Tensor:
        return torch.atan(v[0]).nan_to_num(0.0)  # the angle of a line without any sound

    def _do_resize(self, v: list[Any], told: _Attributes, *_: object) -> Tensor:
        mode = told["mode"].decode()
        if len(v) > 3 and v[3] is not None:
            size: Any = _numbers(v[3])[2:]
        else:
            size = [int(n * s) for n, s in zip(v[0].shape[2:], v[2].tolist()[2:], strict=True)]
        if mode == "nearest":
            return F.interpolate(v[0], size, mode="nearest")
        return F.interpolate(v[0], size, mode="linear", align_corners=False)

    def _do_pad(self, v: list[Any], told: _Attributes, *_: object) -> Tensor:
        widths = _numbers(v[1])
        rank = len(widths) // 2
        pairs = [(widths[k], widths[k + rank]) for k in range(rank)]
        while pairs and pairs[0] == (0, 0):
            pairs.pop(0)
        flat = [n for pair in reversed(pairs) for n in pair]
        sound = v[0]
        while sound.ndim < 2 + len(pairs) - (len(pairs) - 1):
            sound = sound.unsqueeze(0)
        made = F.pad(sound, flat, mode=told["mode"].decode())
        return made.reshape(*v[0].shape[: rank - len(pairs)], *made.shape[made.ndim - len(pairs) :])

    def _do_stft(self, v: list[Any], *_: object) -> Tensor:
        step, window = int(v[1]), v[2]
        size = len(window) if window is not None else int(v[3])
        frames = v[0].reshape(v[0].shape[0], -1).unfold(-1, size, step)
        if window is not None:
            frames = frames * window.to(frames.device)
        return torch.view_as_real(torch.fft.rfft(frames, n=size))


_SIMPLE: Final[dict[str, Callable[..., Tensor]]] = {
    "Mul": torch.mul,
    "Add": torch.add,
    "Sub": torch.sub,
    "Pow": torch.pow,
    "Sqrt": torch.sqrt,
    "Floor": torch.floor,
    "Sin": torch.sin,
    "Cos": torch.cos,
    "Exp": torch.exp,
    "Tanh": torch.tanh,
    "Sigmoid": torch.sigmoid,
    "Round": torch.round,
    "Equal": torch.eq,
    "Less": torch.lt,
    "Greater": torch.gt,
    "GreaterOrEqual": torch.ge,
    "And": torch.logical_and,
    "Where": torch.where,
    "MatMul": torch.matmul,
}
