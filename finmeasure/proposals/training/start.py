"""Go on from weights: a checkpoint of training, or the packaged ONNX file.

In an ONNX file each normalisation is folded into the convolution before it. A network in training
normalises by the batch at hand, so each normalisation is set, on one large batch, such that it
gives back what the folded convolution gave.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import onnx
import torch
from onnx import numpy_helper
from torch import Tensor, nn

_WEIGHTED = {"Conv", "Gemm"}
_Pair = tuple[np.ndarray, np.ndarray]


def go_on_from(network: nn.Module, path: Path, pictures: Tensor) -> None:
    """Load weights into a network, in place.

    Parameters
    ----------
    network : torch module
    path : Path
        `.pt` as training writes it, or `.onnx` as the package holds it.
    pictures : Tensor of shape (N, 3, side, side)
        A batch to set the normalisations on; used for `.onnx` only.
    """
    if path.suffix == ".onnx":
        _load_folded(network, path, pictures)
        return
    saved = torch.load(path, map_location=pictures.device, weights_only=True)
    network.load_state_dict({name: value.float() if value.is_floating_point() else value
                             for name, value in saved.items()})  # fmt: skip


@torch.no_grad()  # type: ignore[untyped-decorator]  # torch is untyped where it is absent
def _load_folded(network: nn.Module, path: Path, pictures: Tensor) -> None:
    named, folded = _weights(onnx.load(str(path)))
    names = {layer: name for name, layer in network.named_modules()}
    in_order, last = iter(folded), list[Tensor]()

    def load(layer: nn.Module, _inputs: object) -> None:
        arrays = named[names[layer]] if names[layer] in named else next(in_order)
        weight, bias = (torch.from_numpy(array).to(pictures.device) for array in arrays)
        layer.weight.copy_(weight)
        if layer.bias is not None:
            layer.bias.copy_(bias)
        last[:] = [bias]

    def undo_fold(layer: nn.Module, inputs: tuple[Tensor]) -> None:
        mean, variance = inputs[0].mean((0, 2, 3)), inputs[0].var((0, 2, 3))
        layer.weight.copy_((variance + layer.eps).sqrt())
        layer.bias.copy_(mean + last[0])
        layer.running_mean.copy_(mean)
        layer.running_var.copy_(variance)

    hooks = [
        layer.register_forward_pre_hook(undo_fold if isinstance(layer, nn.BatchNorm2d) else load)
        for layer in network.modules()
        if isinstance(layer, (nn.Conv2d, nn.Linear, nn.BatchNorm2d))
    ]
    network.train()
    network(pictures)
    for hook in hooks:
        hook.remove()


def _weights(model: onnx.ModelProto) -> tuple[dict[str, _Pair], list[_Pair]]:
    """Give weight and bias of each layer: by name, and of folded ones in order of application."""
    stored = {one.name: numpy_helper.to_array(one) for one in model.graph.initializer}
    makers = {node.output[0]: node for node in model.graph.node}
    named: dict[str, _Pair] = {}
    folded: dict[int, _Pair] = {}
    for node in model.graph.node:
        if node.op_type not in _WEIGHTED:
            continue
        pair = (_value(node.input[1], stored, makers), _value(node.input[2], stored, makers))
        name = makers[node.input[1]].input[0] if node.input[1] in makers else node.input[1]
        if name.startswith("onnx::"):  # numbered in the order of export
            folded[int(name.split("_")[1])] = pair
        else:
            named[name.partition(".weight")[0]] = pair
    return named, [folded[number] for number in sorted(folded)]


def _value(
    name: str, stored: dict[str, np.ndarray], makers: dict[str, onnx.NodeProto]
) -> np.ndarray:
    """Give a constant as floats, whether stored as such, as 16-bit floats or as integers."""
    if name in stored:
        return stored[name].astype(np.float32)
    node = makers[name]
    if node.op_type == "Cast":
        return stored[node.input[0]].astype(np.float32)
    whole, step = (stored[part].astype(np.float32) for part in node.input[:2])
    return np.asarray(whole * step.reshape(-1, *[1] * (whole.ndim - 1)), np.float32)
