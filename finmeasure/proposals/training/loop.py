"""One stage of training: a given time, from scratch or from a checkpoint."""

from __future__ import annotations

import copy
import math
import shutil
import tempfile
import time
from dataclasses import dataclass
from multiprocessing import get_context
from pathlib import Path
from typing import Any

import torch
from torch import nn

from finmeasure.proposals.training.losses import find_loss, fine_loss
from finmeasure.proposals.training.network import FindNetwork, FineNetwork
from finmeasure.proposals.training.pool import HELD_OUT_SPRITES, SpritePool
from finmeasure.proposals.training.scenes import SceneMaker
from finmeasure.proposals.training.sprites import make_files
from finmeasure.proposals.training.start import go_on_from

WARM_SPRITES = 1500
MOST_AVERAGE = 0.9985
REPORT_S = 20.0


@dataclass(frozen=True, slots=True)
class Stage:
    """What to train and for how long.

    Parameters
    ----------
    network : {"fine", "find"}
    seconds : float
        Wall-clock time, drawing of the first sprites included.
    out : Path
        Folder of checkpoint and exported weights.
    start : Path, optional
        Checkpoint (.pt) or packaged weights (.onnx) to go on from; without one the fine network
        starts from features of photographs.
    scratch : bool
        Start from random weights only: to see what the features of photographs are worth.
    gentle : float
        Factor on the rate of the features of photographs, so that drawn fish do not undo them.
    """

    network: str
    seconds: float
    out: Path
    start: Path | None = None
    rate: float = 1.5e-3
    batch: int = 64
    workers: int = 15
    seed: int = 1
    device: str = "cuda"
    scratch: bool = False
    gentle: float = 0.25


def train(stage: Stage) -> tuple[nn.Module, SceneMaker]:
    """Train one network; give its averaged weights and the scenes it learned from."""
    begin = time.monotonic()
    stage.out.mkdir(parents=True, exist_ok=True)
    queue = Path(tempfile.mkdtemp())
    context = get_context("fork")  # before the GPU is touched, so that workers start at once
    workers = [
        context.Process(target=make_files, args=(queue, stage.seed, number), daemon=True)
        for number in range(stage.workers)
    ]
    for worker in workers:
        worker.start()
    try:
        return _trained(stage, begin, queue)
    finally:
        for worker in workers:
            worker.terminate()
        for worker in workers:
            worker.join()
        shutil.rmtree(queue)


def _trained(stage: Stage, begin: float, queue: Path) -> tuple[nn.Module, SceneMaker]:
    torch.manual_seed(stage.seed)
    torch.backends.cudnn.benchmark = True
    torch.backends.cuda.matmul.allow_tf32 = True
    torch.backends.cudnn.allow_tf32 = True
    pool = SpritePool(stage.device)
    scenes = SceneMaker(pool, stage.device)
    network = FineNetwork() if stage.network == "fine" else FindNetwork()
    network = network.to(stage.device).to(memory_format=torch.channels_last)
    while pool.taken["sprites"] < WARM_SPRITES + HELD_OUT_SPRITES:
        if not pool.take_in(queue, 8):
            time.sleep(0.1)
    if stage.network == "fine" and stage.start is None and not stage.scratch:
        network.features.start_from_photographs()
    if stage.start is not None:
        go_on_from(network, stage.start, _TASKS[stage.network][0](scenes, stage.batch).pictures)
    print(f"{stage.network}: first sprites after {time.monotonic() - begin:.0f} s", flush=True)
    average = copy.deepcopy(network).eval().requires_grad_(False)
    _steps(stage, begin, queue, network, average, scenes)
    return average, scenes


def _steps(
    stage: Stage, begin: float, queue: Path, network: nn.Module, average: nn.Module,
    scenes: SceneMaker,
) -> None:  # fmt: skip
    """Take steps until the time is over."""
    optimiser = torch.optim.AdamW(_groups(stage, network), lr=stage.rate, weight_decay=0.02)
    network.train()
    first, told, number = time.monotonic(), time.monotonic(), 0
    while (now := time.monotonic()) - begin < stage.seconds:
        done = (now - first) / max(stage.seconds - (first - begin), 1.0)
        share = min(1.0, (number + 1) / 200) * (0.98 * 0.5 * (1 + math.cos(math.pi * done)) + 0.02)
        for group in optimiser.param_groups:
            group["lr"] = stage.rate * share * group["gentle"]
        if number % 3 == 0:
            scenes.pool.take_in(queue, 1)
        parts = _step(stage, network, optimiser, scenes)
        number += 1
        _average(average, network, min(MOST_AVERAGE, number / (number + 30.0)))
        if now - told > REPORT_S:
            told = now
            rates = [round(value, 3) for value in parts.tolist()]
            print(f"{stage.network} {now - begin:5.0f} s step {number} sprites "
                  f"{scenes.pool.taken['sprites']} loss {rates}", flush=True)  # fmt: skip


def _groups(stage: Stage, network: nn.Module) -> list[dict[str, Any]]:
    """Give the features of photographs a rate of their own."""
    gentle = 1.0 if stage.scratch else stage.gentle
    features, others = list[nn.Parameter](), list[nn.Parameter]()
    for name, parameter in network.named_parameters():
        (features if name.startswith("features.") else others).append(parameter)
    return [{"params": others, "gentle": 1.0}, {"params": features, "gentle": gentle}]


def _step(
    stage: Stage, network: nn.Module, optimiser: torch.optim.Optimizer, scenes: SceneMaker
) -> torch.Tensor:
    with torch.no_grad():
        make, loss_of = _TASKS[stage.network]
        batch = make(scenes, stage.batch)
    pictures = batch.pictures.contiguous(memory_format=torch.channels_last)
    with torch.autocast("cuda", torch.bfloat16, enabled=stage.device == "cuda"):
        output = network(pictures)
    loss, parts = loss_of(output, batch)
    optimiser.zero_grad(set_to_none=True)
    loss.backward()
    nn.utils.clip_grad_norm_(network.parameters(), 5.0)
    optimiser.step()
    return parts


_TASKS: dict[str, tuple[Any, Any]] = {
    "fine": (SceneMaker.fine, fine_loss),
    "find": (SceneMaker.find, find_loss),
}


@torch.no_grad()  # type: ignore[untyped-decorator]  # torch is untyped where it is absent
def _average(average: nn.Module, network: nn.Module, keep: float) -> None:
    """Move the running average of the weights towards the network's."""
    kept, new = list(average.parameters()), list(network.parameters())
    torch._foreach_lerp_(kept, new, 1 - keep)
    for mine, theirs in zip(average.buffers(), network.buffers(), strict=True):
        if mine.is_floating_point():
            mine.lerp_(theirs, 1 - keep)
