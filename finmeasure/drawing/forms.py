"""Random fish of every body form. The ranges are invented from common practice, no source."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

from finmeasure.drawing.looks import random_look
from finmeasure.drawing.spec import FinSpec, FishSpec
from finmeasure.errors import DefinitionError
from finmeasure.landmarks.scheme import LONG_FIN

Range = tuple[float, float]


@dataclass(frozen=True, slots=True)
class FinRange:
    """Ranges of one fin, lengths as shares of standard length; `kinds` are drawn alike often."""

    kinds: tuple[str, ...]
    length: Range
    front: Range = (0.5, 0.5)
    base: Range = (0.1, 0.1)
    first_ray_deg: Range = (60, 75)
    last_ray_deg: Range = (15, 35)
    curl_deg: Range = (-25, 5)
    depth: Range = (0.1, 0.2)
    rays: tuple[int, int] = (9, 14)
    height: Range = (-0.5, -0.3)


@dataclass(frozen=True, slots=True)
class FormRange:
    """Ranges of a body form, lengths as shares of standard length.

    `body_form` is the id in :mod:`finmeasure.landmarks` where it differs from the key.
    """

    depth: Range = (0.26, 0.36)
    deepest: Range = (0.36, 0.45)
    back_share: Range = (0.46, 0.54)
    peduncle: Range = (0.10, 0.14)
    operculum: Range = (0.24, 0.28)
    eye: Range = (0.07, 0.095)
    bluntness: Range = (0.4, 0.75)
    length_mm: Range = (20, 45)
    mouth_drop: Range = (-0.02, 0.05)
    barbels: int = 0
    fins: Mapping[str, FinRange] = field(default_factory=dict)
    body_form: str = ""


_DORSAL = FinRange(("triangular", "rounded"), (0.2, 0.27), (0.46, 0.52), (0.13, 0.18), (55, 70))
_ANAL = FinRange(("triangular",), (0.15, 0.2), (0.64, 0.68), (0.12, 0.18), (55, 70))
_FORKED = FinRange(("forked",), (0.26, 0.34), (0, 0), (0, 0), (28, 38), (-38, -28), (-4, 4),
                   (0.38, 0.55), (16, 20))  # fmt: skip
_ROUND_TAIL = FinRange(("rounded", "truncate"), (0.22, 0.3), (0, 0), (0, 0), (24, 34),
                       (-34, -24), (-4, 4), (0.12, 0.25), (14, 18))  # fmt: skip
_PELVIC = FinRange(("triangular",), (0.14, 0.19), (0.47, 0.51), (0.02, 0.03), (35, 55), (5, 15),
                   rays=(6, 8))  # fmt: skip
_PECTORAL = FinRange(("rounded", "triangular"), (0.14, 0.2), (0.26, 0.29), (0.05, 0.07),
                     (-5, 12), (-45, -30), rays=(9, 12), height=(-0.6, -0.35))  # fmt: skip
_ADIPOSE = FinRange(("rounded",), (0.045, 0.06), (0.82, 0.85), (0.02, 0.03), (35, 50), (5, 20),
                    rays=(1, 1))  # fmt: skip
_CYPRINID = {"dorsal": _DORSAL, "anal": _ANAL, "caudal": _FORKED, "pelvic": _PELVIC,
             "pectoral": _PECTORAL}  # fmt: skip


def _with(fins: Mapping[str, FinRange], **changed: FinRange) -> dict[str, FinRange]:
    return dict(fins) | changed


def _fin(*kinds: str, **ranges: Any) -> FinRange:
    return FinRange(kinds, **ranges)


_LIVEBEARER = _with(
    _CYPRINID,
    dorsal=_fin("rounded", "triangular", length=(0.2, 0.28), front=(0.5, 0.58), base=(0.12, 0.2)),
    caudal=_ROUND_TAIL,
    anal=_fin("triangular", length=(0.16, 0.2), front=(0.6, 0.64), base=(0.07, 0.1)),
    pelvic=_fin("triangular", length=(0.11, 0.15), front=(0.44, 0.48), base=(0.02, 0.03),
                first_ray_deg=(30, 45), last_ray_deg=(0, 10), rays=(6, 7)),
    pectoral=_fin("rounded", length=(0.16, 0.2), front=(0.27, 0.3), base=(0.05, 0.07),
                  first_ray_deg=(5, 25), last_ray_deg=(-30, -10), height=(-0.1, 0.2)),
)  # fmt: skip
_LONG_ANAL = _fin("triangular", "rounded", length=(0.15, 0.2), front=(0.42, 0.48),
                  base=(0.42, 0.48), first_ray_deg=(60, 75), last_ray_deg=(30, 50),
                  rays=(22, 30))  # fmt: skip

BODY_FORMS: dict[str, FormRange] = {
    "plain": FormRange(fins=_CYPRINID),
    "adipose": FormRange(depth=(0.28, 0.42), fins=_with(
        _CYPRINID, adipose=_ADIPOSE,
        anal=_fin("triangular", length=(0.15, 0.2), front=(0.56, 0.62), base=(0.24, 0.3),
                  rays=(16, 24)))),
    "livebearer_female": FormRange(depth=(0.27, 0.36), bluntness=(0.2, 0.4), peduncle=(0.13, 0.17),
                                   fins=_LIVEBEARER, body_form="livebearer"),
    "livebearer_male": FormRange(depth=(0.22, 0.29), bluntness=(0.2, 0.4), peduncle=(0.13, 0.17),
                                 length_mm=(18, 35), body_form="livebearer", fins=_with(
        _LIVEBEARER,
        anal=_fin("rod", length=(0.26, 0.34), front=(0.54, 0.58), base=(0.014, 0.018),
                  first_ray_deg=(14, 16), last_ray_deg=(11, 12.5), curl_deg=(-4, 4), rays=(4, 5)))),
    "gourami": FormRange(depth=(0.38, 0.46), peduncle=(0.13, 0.17), fins=_with(
        _CYPRINID, caudal=_fin("emarginate", "truncate", length=(0.24, 0.3), first_ray_deg=(24, 32),
                               last_ray_deg=(-32, -24), curl_deg=(-4, 4), depth=(0.06, 0.14),
                               rays=(14, 17)),
        anal=_LONG_ANAL,
        dorsal=_fin("triangular", "lobed", length=(0.2, 0.28), front=(0.44, 0.52),
                    base=(0.14, 0.3), rays=(11, 15)),
        pelvic=_fin("thread", length=(0.6, 0.85), front=(0.31, 0.34), base=(0.015, 0.02),
                    first_ray_deg=(25, 50), last_ray_deg=(12, 22), depth=(0.8, 0.86),
                    rays=(4, 5)))),
    "betta": FormRange(depth=(0.24, 0.29), peduncle=(0.13, 0.16), fins=_with(
        _CYPRINID, caudal=_fin("rounded", "comb", "long_rayed", length=(0.3, 0.55),
                               first_ray_deg=(40, 80), last_ray_deg=(-80, -40), curl_deg=(-4, 4),
                               depth=(0.1, 0.16), rays=(14, 18)),
        anal=_fin("triangular", "rounded", length=(0.2, 0.35), front=(0.4, 0.46),
                  base=(0.42, 0.48), last_ray_deg=(25, 40), rays=(22, 26)),
        dorsal=_fin("rounded", "triangular", length=(0.22, 0.4), front=(0.58, 0.64),
                    base=(0.1, 0.15)),
        pelvic=_fin("long_rayed", length=(0.25, 0.38), front=(0.3, 0.33), base=(0.015, 0.02),
                    first_ray_deg=(40, 60), last_ray_deg=(25, 35), depth=(0.3, 0.5),
                    rays=(4, 6)))),
    "cichlid": FormRange(depth=(0.36, 0.48), bluntness=(0.45, 0.7), peduncle=(0.14, 0.17),
                         fins=_with(
        _CYPRINID, caudal=_ROUND_TAIL,
        dorsal=_fin("lobed", length=(0.2, 0.28), front=(0.3, 0.35), base=(0.48, 0.54),
                    first_ray_deg=(65, 80), depth=(0.7, 1.0), rays=(20, 26)),
        anal=_fin("long_rayed", "triangular", length=(0.18, 0.26), front=(0.6, 0.64),
                  base=(0.2, 0.24), depth=(0.3, 0.4), rays=(10, 13)),
        pelvic=_fin("triangular", length=(0.18, 0.25), front=(0.35, 0.38), base=(0.02, 0.03),
                    first_ray_deg=(30, 50), last_ray_deg=(5, 15), rays=(6, 7)))),
    "two_dorsals": FormRange(depth=(0.18, 0.34), peduncle=(0.1, 0.13), fins=_with(
        _CYPRINID,
        dorsal=_fin("triangular", "rounded", length=(0.12, 0.18), front=(0.34, 0.38),
                    base=(0.12, 0.16), rays=(6, 7)),
        second_dorsal=_fin("triangular", "rounded", length=(0.13, 0.2), front=(0.54, 0.58),
                           base=(0.2, 0.28), rays=(10, 14)),
        anal=_fin("triangular", "rounded", length=(0.13, 0.18), front=(0.56, 0.6),
                  base=(0.2, 0.28), rays=(10, 16)),
        caudal=_fin("rounded", "emarginate", length=(0.22, 0.28), first_ray_deg=(24, 32),
                    last_ray_deg=(-32, -24), curl_deg=(-4, 4), depth=(0.12, 0.2), rays=(14, 17)),
        pelvic=_fin("triangular", length=(0.15, 0.2), front=(0.32, 0.36), base=(0.02, 0.03),
                    first_ray_deg=(25, 45), last_ray_deg=(5, 12), rays=(6, 6)))),
    "armoured_catfish": FormRange(depth=(0.32, 0.38), deepest=(0.33, 0.38), back_share=(0.62, 0.7),
                                  bluntness=(0.7, 0.95), mouth_drop=(0.12, 0.18), barbels=2,
                                  fins=_with(
        _CYPRINID, adipose=_ADIPOSE,
        dorsal=_fin("triangular", length=(0.24, 0.3), front=(0.38, 0.42), base=(0.14, 0.18),
                    rays=(8, 9)),
        pectoral=_fin("triangular", length=(0.2, 0.26), front=(0.27, 0.3), base=(0.04, 0.05),
                      first_ray_deg=(-15, -5), last_ray_deg=(-55, -40), height=(-0.85, -0.7)))),
    "sucker_catfish": FormRange(depth=(0.2, 0.26), deepest=(0.3, 0.36), back_share=(0.7, 0.78),
                                mouth_drop=(0.1, 0.16),
                                bluntness=(0.5, 0.75), eye=(0.045, 0.06), fins=_with(
        _CYPRINID, adipose=_ADIPOSE,
        caudal=_fin("emarginate", "forked", length=(0.24, 0.3), first_ray_deg=(22, 30),
                    last_ray_deg=(-30, -22), curl_deg=(-4, 4), depth=(0.15, 0.3), rays=(12, 16)),
        dorsal=_fin("triangular", length=(0.22, 0.3), front=(0.36, 0.42), base=(0.16, 0.2),
                    rays=(8, 9)),
        anal=_fin("triangular", length=(0.1, 0.14), front=(0.66, 0.7), base=(0.04, 0.06),
                  rays=(5, 6)),
        pectoral=_fin("triangular", length=(0.22, 0.27), front=(0.25, 0.28), base=(0.04, 0.05),
                      first_ray_deg=(-12, -4), last_ray_deg=(-50, -38), height=(-0.85, -0.7)))),
    "killifish": FormRange(depth=(0.2, 0.26), mouth_drop=(-0.12, -0.04),
                           bluntness=(0.15, 0.35), peduncle=(0.13, 0.16),
                           fins=_with(
        _CYPRINID, caudal=_ROUND_TAIL,
        dorsal=_fin("triangular", "rounded", length=(0.16, 0.24), front=(0.64, 0.7),
                    base=(0.1, 0.14)),
        anal=_fin("triangular", "rounded", length=(0.16, 0.22), front=(0.6, 0.64),
                  base=(0.14, 0.2)))),
    "inside_fertilising": FormRange(depth=(0.26, 0.34), peduncle=(0.14, 0.17), fins=_with(
        _LIVEBEARER, caudal=_ROUND_TAIL,
        dorsal=_fin("rounded", length=(0.16, 0.22), front=(0.62, 0.68), base=(0.12, 0.17)),
        anal=_fin("rounded", length=(0.13, 0.17), front=(0.64, 0.69), base=(0.1, 0.14)))),
    "loach": FormRange(depth=(0.13, 0.18), deepest=(0.38, 0.5), bluntness=(0.3, 0.5),
                       eye=(0.03, 0.045), operculum=(0.17, 0.21), peduncle=(0.09, 0.11), barbels=3,
                       fins=_with(
        _CYPRINID, caudal=_ROUND_TAIL,
        dorsal=_fin("triangular", "rounded", length=(0.13, 0.17), front=(0.45, 0.52),
                    base=(0.08, 0.12), rays=(7, 9)),
        anal=_fin("triangular", length=(0.1, 0.13), front=(0.72, 0.76), base=(0.06, 0.08),
                  rays=(5, 6)),
        pectoral=_fin("rounded", length=(0.12, 0.16), front=(0.18, 0.21), base=(0.03, 0.04),
                      first_ray_deg=(-8, 4), last_ray_deg=(-45, -30), height=(-0.8, -0.6)))),
    "deep_bodied": FormRange(depth=(0.55, 0.8), deepest=(0.4, 0.5), peduncle=(0.12, 0.16),
                             eye=(0.09, 0.12), body_form="cichlid", fins=_with(
        _CYPRINID, caudal=_ROUND_TAIL,
        dorsal=_fin("long_rayed", "triangular", length=(0.3, 0.5), front=(0.36, 0.42),
                    base=(0.4, 0.46), first_ray_deg=(60, 80), depth=(0.4, 0.6), rays=(18, 26)),
        anal=_fin("long_rayed", "triangular", length=(0.3, 0.5), front=(0.46, 0.52),
                  base=(0.36, 0.4), first_ray_deg=(60, 80), depth=(0.4, 0.6), rays=(18, 26)),
        pelvic=_fin("long_rayed", length=(0.3, 0.5), front=(0.33, 0.37), base=(0.02, 0.03),
                    first_ray_deg=(45, 65), last_ray_deg=(30, 40), depth=(0.6, 0.7), rays=(5, 6)))),
    "rear_set_fins": FormRange(depth=(0.2, 0.3), deepest=(0.4, 0.5), body_form="killifish",
                               fins=_with(
        _CYPRINID, caudal=_ROUND_TAIL,
        dorsal=_fin("rounded", "triangular", length=(0.15, 0.24), front=(0.55, 0.6),
                    base=(0.26, 0.32), rays=(14, 22)),
        anal=_fin("rounded", "triangular", length=(0.15, 0.24), front=(0.55, 0.6),
                  base=(0.26, 0.32), rays=(14, 22)))),
    "puffer": FormRange(depth=(0.36, 0.46), bluntness=(0.5, 0.8), peduncle=(0.12, 0.16), fins={
        "caudal": _ROUND_TAIL, "pectoral": _PECTORAL,
        "dorsal": _fin("rounded", length=(0.12, 0.16), front=(0.72, 0.76), base=(0.07, 0.1),
                       rays=(7, 9)),
        "anal": _fin("rounded", length=(0.11, 0.15), front=(0.73, 0.77), base=(0.06, 0.09),
                     rays=(7, 9))}),
}  # fmt: skip


def random_spec(rng: np.random.Generator, *, body_form: str = "plain") -> FishSpec:
    """Draw a fish of a body form.

    Parameters
    ----------
    rng : numpy Generator
    body_form : str
        A key of :data:`BODY_FORMS`.

    Raises
    ------
    DefinitionError
        If the body form cannot be drawn.
    """
    if body_form not in BODY_FORMS:
        message = f"Body form {body_form!r} cannot be drawn. Allowed: {', '.join(BODY_FORMS)}."
        raise DefinitionError(message)
    form = BODY_FORMS[body_form]
    length = rng.uniform(*form.length_mm)
    depth = rng.uniform(*form.depth)
    eye = rng.uniform(*form.eye)
    operculum = rng.uniform(*form.operculum)
    return FishSpec(
        form.body_form or body_form,
        length,
        depth_mm=length * depth,
        deepest_mm=length * rng.uniform(*form.deepest),
        peduncle_depth_mm=length * rng.uniform(*form.peduncle),
        peduncle_mm=length * rng.uniform(0.88, 0.92),
        operculum_mm=length * operculum,
        eye_mm=length * (eye * 0.5 + rng.uniform(0.045, 0.065)),
        eye_diameter_mm=length * eye,
        back_share=rng.uniform(*form.back_share),
        mouth_drop=rng.uniform(*form.mouth_drop),
        bluntness=rng.uniform(*form.bluntness),
        eye_height_share=rng.uniform(0.2, 0.4),
        fins=tuple(_random_fin(part, shape, length, rng) for part, shape in form.fins.items()),
        look=random_look(rng, body_form),
        barbels=form.barbels,
    )


def long_finned(spec: FishSpec, share: float = 1.8) -> FishSpec:
    """Make a fish of a long-fin strain: all its rays are longer and hang more."""
    fins = tuple(
        replace(fin, length_mm=fin.length_mm * share, curl_deg=fin.curl_deg - 12.0)
        for fin in spec.fins
        if fin.part != "adipose"
    )
    adipose = tuple(fin for fin in spec.fins if fin.part == "adipose")
    return replace(spec, body_form=f"{spec.body_form}{LONG_FIN}", fins=fins + adipose)


def _random_fin(part: str, shape: FinRange, length: float, rng: np.random.Generator) -> FinSpec:
    front = rng.uniform(*shape.front)
    base = rng.uniform(*shape.base)
    return FinSpec(
        part,
        str(rng.choice(shape.kinds)),
        length_mm=length * rng.uniform(*shape.length),
        front_mm=length * front,
        rear_mm=length * (base if part == "pectoral" else front + base),
        first_ray_deg=rng.uniform(*shape.first_ray_deg),
        last_ray_deg=rng.uniform(*shape.last_ray_deg),
        curl_deg=rng.uniform(*shape.curl_deg),
        depth=rng.uniform(*shape.depth),
        ray_count=int(rng.integers(shape.rays[0], shape.rays[1] + 1)),
        height_share=rng.uniform(*shape.height),
    )
