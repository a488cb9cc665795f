"""Turn a scale into plain values for the study's database, and back."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

import numpy as np

from finmeasure.scale.calibration import BudgetLine, Scale


def scale_to_json(scale: Scale) -> dict[str, Any]:
    """Give a scale as a dict of plain numbers, texts and lists; nothing is rounded."""
    return {
        "method": scale.method,
        "pixel_to_mm": scale.pixel_to_mm.tolist(),
        "u_rel": scale.u_rel,
        "rectified": scale.rectified,
        "centre_px": list(scale.centre_px),
        "radial": scale.radial,
        "optical_centre_px": list(scale.optical_centre_px),
        "radius_px": scale.radius_px,
        "region_px": None if scale.region_px is None else scale.region_px.tolist(),
        "flags": list(scale.flags),
        "budget": [asdict(line) for line in scale.budget],
        "advice": list(scale.advice),
    }


def scale_from_json(stored: dict[str, Any]) -> Scale:
    """Rebuild a scale from what :func:`scale_to_json` gave."""
    region = stored["region_px"]
    return Scale(
        method=stored["method"],
        pixel_to_mm=np.array(stored["pixel_to_mm"], float),
        u_rel=stored["u_rel"],
        rectified=stored["rectified"],
        centre_px=tuple(stored["centre_px"]),
        radial=stored["radial"],
        optical_centre_px=tuple(stored["optical_centre_px"]),
        radius_px=stored["radius_px"],
        region_px=None if region is None else np.array(region, float),
        flags=tuple(stored["flags"]),
        budget=tuple(BudgetLine(**line) for line in stored["budget"]),
        advice=tuple(stored.get("advice", ())),  # older studies have none
    )
