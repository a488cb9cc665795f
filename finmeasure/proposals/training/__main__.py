"""Train one network: `python -m finmeasure.proposals.training fine --seconds 540 --out folder`."""

from __future__ import annotations

import argparse
from pathlib import Path

import cv2
import numpy as np
import torch

from finmeasure.proposals.training.loop import Stage, train

PICTURES = 24


def main() -> None:
    """Train; leave a checkpoint, and pictures to look at and to take ranges of values from."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("network", choices=["fine", "find"])
    parser.add_argument("--seconds", type=float, default=520.0)
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--start", type=Path, help="weights to go on from: .pt or .onnx")
    parser.add_argument("--rate", type=float, default=1.5e-3)
    parser.add_argument("--batch", type=int, default=64)
    parser.add_argument("--workers", type=int, default=15)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--device", default="cuda")
    parser.add_argument("--scratch", action="store_true", help="do without features of photographs")
    parser.add_argument("--gentle", type=float, default=0.25, help="factor on the features' rate")
    given = parser.parse_args()
    stage = Stage(**vars(given))
    network, scenes = train(stage)
    state = {name: value.half() if value.is_floating_point() else value
             for name, value in network.state_dict().items()}  # fmt: skip
    torch.save(state, stage.out / f"{stage.network}.pt")
    torch.manual_seed(stage.seed + 7)
    with torch.no_grad():
        make = scenes.fine if stage.network == "fine" else scenes.find
        pictures = (make(PICTURES).pictures * 255).round().byte().cpu().numpy()
    np.savez_compressed(stage.out / f"{stage.network}_pictures.npz", pictures=pictures)
    rows = pictures.transpose(0, 2, 3, 1).reshape(4, 6, *pictures.shape[2:], 3)
    sheet = np.vstack([np.hstack(list(row)) for row in rows])
    small = cv2.resize(sheet[..., ::-1], None, fx=0.5, fy=0.5, interpolation=cv2.INTER_AREA)
    cv2.imwrite(str(stage.out / f"{stage.network}_pictures.png"), small)


if __name__ == "__main__":
    main()
