"""The networks' weights: loaded when first needed, and only if they are unaltered."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from finmeasure.errors import NotFound

FOLDER = Path(__file__).parent / "weights"
MANIFEST = "weights.json"


class Network:
    """One network that is ready to run on one processor core."""

    def __init__(self, session: Any) -> None:
        self._session = session

    def __call__(self, picture: NDArray[np.float32]) -> list[NDArray[np.float32]]:
        """Run on a picture of shape (side, side, 3), 0 to 1; give outputs without batch axis."""
        inputs = np.ascontiguousarray(picture.transpose(2, 0, 1)[None], np.float32)
        return [output[0] for output in self._session.run(None, {"picture": inputs})]


def load_network(name: str, folder: Path = FOLDER) -> Network | NotFound:
    """Load a network once per process.

    Parameters
    ----------
    name : {"find", "fine"}
    folder : Path
        Where the weights and their manifest lie.

    Returns
    -------
    Network or NotFound
        NotFound where the weights are missing or do not have the checksum of the manifest.
    """
    return _load(name, folder)


@cache
def _load(name: str, folder: Path) -> Network | NotFound:
    entry = manifest(folder).get(name)
    if entry is None:
        return _unusable("The weights of the program's proposals are not installed.")
    path = folder / str(entry["file"])
    if not path.is_file():
        return _unusable(f"The weights {path.name} are missing.")
    content = path.read_bytes()
    if hashlib.sha256(content).hexdigest() != entry["sha256"]:
        return _unusable(f"The weights {path.name} are altered: their checksum is wrong.")
    return Network(_session(content))


def manifest(folder: Path = FOLDER) -> Mapping[str, Any]:
    """Names, checksums and calibration of the weights; empty where there are none."""
    path = folder / MANIFEST
    return json.loads(path.read_text("utf-8")) if path.is_file() else {}


def weights_id(folder: Path = FOLDER) -> str:
    """Name the weights and their calibration by a checksum; empty where there are none."""
    entries = manifest(folder)
    return (
        hashlib.sha256(json.dumps(dict(entries), sort_keys=True).encode()).hexdigest()
        if entries
        else ""
    )


def _session(content: bytes) -> Any:
    import onnxruntime  # slow to import: only where proposals are made

    options = onnxruntime.SessionOptions()
    # A batch runs one process per core.
    options.intra_op_num_threads = options.inter_op_num_threads = 1
    options.log_severity_level = 3
    return onnxruntime.InferenceSession(content, options, providers=["CPUExecutionProvider"])


def _unusable(reason: str) -> NotFound:
    return NotFound(
        f"Nothing can be proposed. {reason}",
        "Install finmeasure again, or mark the fish with `finmeasure open`.",
    )
