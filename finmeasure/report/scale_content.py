"""The scale of each photo as a report shows it: shares of its uncertainty, and advice."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from finmeasure.errors import NotFound

if TYPE_CHECKING:
    from finmeasure.study.store import Study

MOST_ROWS = 60
"""The photos with the least certain scale; all are in photos.csv."""


@dataclass(frozen=True, slots=True)
class ScaleShown:
    """One photo's scale in words.

    Parameters
    ----------
    px_per_mm : str
        With its limits (95 %).
    shares : tuple of str
        Sources of the uncertainty, the largest first: name, standard uncertainty in %, note.
    """

    photo: str
    method: str
    px_per_mm: str
    shares: tuple[str, ...]
    advice: tuple[str, ...]


def scales_shown(study: Study) -> tuple[ScaleShown, ...]:
    """Give the scales of the photos that count now, the least certain first."""
    photos = study.table("photos")
    photos = photos[photos["scale_method"].fillna("") != ""]
    u_rel = photos["px_per_mm_u"].astype(float) / photos["px_per_mm"].astype(float)
    worst = photos.loc[u_rel.sort_values(ascending=False, kind="stable").index[:MOST_ROWS]]
    return tuple(row for name in worst["photo"] if (row := _shown(study, str(name))) is not None)


def _shown(study: Study, photo: str) -> ScaleShown | None:
    scale = study.scale_of(photo)
    if isinstance(scale, NotFound):
        return None
    lines = sorted(scale.budget, key=lambda line: -line.u_rel)
    return ScaleShown(
        photo,
        scale.method.replace("_", " "),
        f"{scale.px_per_mm:.4g} ± {100 * 1.96 * scale.u_rel:.2g} %",
        tuple(f"{line.source} {100 * line.u_rel:.2g} %: {line.note}" for line in lines),
        scale.advice,
    )
