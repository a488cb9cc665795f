"""From checkpoints to small ONNX files: weights as 16-bit floats, or as 8-bit integers.

`python -m finmeasure.proposals.training.export fine A B --out C` takes the mean of the weights of
runs that went on from the same start.
"""

from __future__ import annotations

import argparse
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import onnx
import torch
from onnx import TensorProto, helper, numpy_helper
from torch import nn

from finmeasure.proposals.layout import FIND_SIDE_PX, FINE_SIDE_PX
from finmeasure.proposals.training.network import FindNetwork, FineNetwork

OUTPUTS = {"fine": ["mask", "heat", "shows"], "find": ["places"]}
OPSET = 17


def export(network: nn.Module, kind: str, out: Path, pictures: np.ndarray) -> None:
    """Write `kind`_fp16.onnx and `kind`_int8.onnx.

    Parameters
    ----------
    network : torch module
    kind : {"fine", "find"}
    out : Path
        Folder.
    pictures : ndarray of shape (N, 3, side, side), float32
        Drawn pictures from which the ranges of the 8-bit values are taken.
    """
    network = network.float().cpu().eval()
    side = FINE_SIDE_PX if kind == "fine" else FIND_SIDE_PX
    whole = out / f"{kind}_fp32.onnx"
    torch.onnx.export(network, (torch.rand(1, 3, side, side),), str(whole), input_names=["picture"],
                      output_names=OUTPUTS[kind], opset_version=OPSET, dynamo=False)  # fmt: skip
    _store_half(whole, out / f"{kind}_fp16.onnx")
    _store_bytes(whole, out / f"{kind}_int8.onnx", pictures)


def _store_half(source: Path, target: Path) -> None:
    """Store large constants as 16-bit floats, turned back to 32 bits when the file is loaded."""
    model = onnx.load(str(source))
    kept, casts = [], []
    for constant in model.graph.initializer:
        values = numpy_helper.to_array(constant)
        if values.dtype != np.float32 or values.size < 64:
            kept.append(constant)
            continue
        name = f"{constant.name}_half"
        kept.append(numpy_helper.from_array(values.astype(np.float16), name))
        casts.append(helper.make_node("Cast", [name], [constant.name], to=TensorProto.FLOAT))
    del model.graph.initializer[:]
    model.graph.initializer.extend(kept)
    nodes = [*casts, *model.graph.node]
    del model.graph.node[:]
    model.graph.node.extend(nodes)
    onnx.save(model, str(target))


def _store_bytes(source: Path, target: Path, pictures: np.ndarray) -> None:
    """Quantise weights per channel and values per layer, ranges from drawn pictures."""
    from onnxruntime.quantization import CalibrationMethod, QuantFormat, QuantType, quantize_static
    from onnxruntime.quantization.shape_inference import quant_pre_process

    prepared = source.with_suffix(".prepared.onnx")
    quant_pre_process(str(source), str(prepared))
    quantize_static(
        str(prepared), str(target), _Pictures(pictures), quant_format=QuantFormat.QDQ,
        per_channel=True, activation_type=QuantType.QUInt8, weight_type=QuantType.QInt8,
        calibrate_method=CalibrationMethod.MinMax,
    )  # fmt: skip


class _Pictures:
    """Hand pictures one by one to the quantiser."""

    def __init__(self, pictures: np.ndarray) -> None:
        self._left: Iterator[np.ndarray] = iter(pictures)

    def get_next(self) -> dict[str, np.ndarray] | None:
        """Give the next picture as the network's input."""
        picture = next(self._left, None)
        return None if picture is None else {"picture": picture[None]}


def main() -> None:
    """Take the mean of checkpoints and store it as ONNX files."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("network", choices=["fine", "find"])
    parser.add_argument("runs", type=Path, nargs="+", help="folders that training wrote")
    parser.add_argument("--out", type=Path, required=True)
    given = parser.parse_args()
    kind = given.network
    states = [torch.load(run / f"{kind}.pt", map_location="cpu", weights_only=True)
              for run in given.runs]  # fmt: skip
    mean = {name: torch.stack([state[name].float() for state in states]).mean(0).to(value.dtype)
            for name, value in states[0].items()}  # fmt: skip
    network = FineNetwork() if kind == "fine" else FindNetwork()
    network.load_state_dict(mean)
    with np.load(given.runs[0] / f"{kind}_pictures.npz") as stored:
        pictures = stored["pictures"].astype(np.float32) / 255
    given.out.mkdir(parents=True, exist_ok=True)
    export(network, kind, given.out, pictures)


if __name__ == "__main__":
    main()
