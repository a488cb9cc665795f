"""The invented demo: a small hatchery that does not exist, with kinds of fish that do not exist."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta

import numpy as np

from finmeasure.card_design import PAPER_MM
from finmeasure.drawing.damage import Damage
from finmeasure.drawing.forms import random_spec
from finmeasure.drawing.photo import View
from finmeasure.drawing.spec import FinLook, FishSpec, Look, Pattern
from finmeasure.drawing.variation import posed, resized, varied, with_fin
from finmeasure.drawing.views import CardKind, fitted, random_card_view

BAG_DAY = date(2026, 5, 2)
PAID_MM = (25.0, 32.0)
VISITS = tuple(date(2026, 3, 1) + timedelta(days=5 * number) for number in range(6))
JUVENILE_WEEKS = (4, 6, 8, 10)
HATCHED = date(2026, 1, 19)
_FIRST_HOUR = 9
_UNDERSIZED = (4, 13, 22, 31, 40)
_STRAYS = {9: "plain", 27: "killifish", 38: "plain"}


@dataclass(frozen=True, slots=True)
class Shot:
    """One photo of the demo.

    Parameters
    ----------
    photo : str
        Path within the sample folder.
    group, fish : str
        Whom it shows.
    taken_at : datetime
        Camera's local time.
    spec : FishSpec
    view : View
    marked : {"all", "sex", "none"}
        Which marks the tables give.
    outlined : tuple of str
        Fins whose edge the tables give.
    quality : int
        JPEG quality of the file.
    spoilt : {"", "bag"}
        ``bag``: seen through a wrinkled bag.
    """

    photo: str
    group: str
    fish: str
    taken_at: datetime
    spec: FishSpec
    view: View
    marked: str = "all"
    outlined: tuple[str, ...] = ("dorsal", "caudal", "anal")
    quality: int = 84
    spoilt: str = ""


def shots(seed: int = 7) -> Iterator[Shot]:
    """Give every photo of the demo in turn."""
    rng = np.random.default_rng(seed)
    yield from _bag(rng)
    yield from _treatment(rng)
    yield from _juveniles(rng)
    yield _counter(rng)
    yield from _refused(rng)


def _time(day: date, number: int) -> datetime:
    start = datetime(day.year, day.month, day.day, _FIRST_HOUR, 10)
    return start + timedelta(minutes=3 * number)


def _card_view(
    rng: np.random.Generator, size_px: tuple[int, int], kind: CardKind = "window"
) -> View:
    """Photograph before the smallest card with a zoom lens, about as steady as a hand is."""
    view = random_card_view(rng, size_px, kind=kind, careless=0.0)
    view = replace(
        view,
        facing="left",
        fish_angle_deg=rng.normal(0, 2.0),
        fish_at_mm=(rng.normal(0, 1.0), rng.normal(0, 0.3)),
        tilt_deg=abs(rng.normal(0, 4.0)),
        tilt_axis_deg=rng.uniform(0, 180),
        turn_deg=rng.normal(0, 1.0),
        radial=-0.02,
        focal_share=1.6,
        ground="water",
        blur_px=rng.uniform(0.7, 1.1),
        noise=rng.uniform(1.2, 2.2),
        jpeg_quality=0,
        light_fall=rng.uniform(0.05, 0.2),
        haze=rng.uniform(0.0, 0.06),
        shadow=rng.uniform(0.15, 0.3),
    )
    return fitted(view, PAPER_MM["ID1"])


def _quillfin() -> FishSpec:
    """Draw the kind that was ordered: a slender fish with an adipose fin."""
    spec = resized(
        random_spec(np.random.default_rng(11), body_form="adipose"), 28.0, depth_to_sl=0.27
    )
    look = Look(
        back=(0.34, 0.30, 0.20), flank=(0.66, 0.58, 0.44), belly=(0.86, 0.83, 0.76),
        iris=(0.78, 0.30, 0.18),
        patterns=(Pattern("stripe", (0.80, 0.34, 0.10), 0.7, -0.12, 0.16, 5),
                  Pattern("stripe", (0.10, 0.09, 0.08), 0.6, 0.18, 0.14, 6)),
        fins=FinLook((0.72, 0.46, 0.26), (0.86, 0.62, 0.40), 0.45, 0.75, -0.22),
        gloss=0.5, scale_rows=10, scale_contrast=0.35,
    )  # fmt: skip
    spec = replace(spec, look=look)
    spec = with_fin(spec, "dorsal", length_mm=5.0, kind="triangular")
    return with_fin(spec, "anal", length_mm=3.6)


def _bag(rng: np.random.Generator) -> Iterator[Shot]:
    kind = _quillfin()
    for number in range(1, 47):
        male = bool(rng.random() < 0.5)
        if number in _STRAYS:
            strange = random_spec(rng, body_form=_STRAYS[number])
            fish = resized(strange, rng.uniform(25, 29), depth_to_sl=0.25)
        else:
            small = number in _UNDERSIZED
            length = rng.uniform(21.5, 24.2) if small else rng.uniform(25.6, 30.0)
            fish = varied(resized(kind, length, depth_to_sl=0.27 * rng.normal(1, 0.03)), rng, 0.03)
            # In this invented kind males have the taller dorsal fin.
            fish = _taller_dorsal(fish, 1.22 if male else 1.0)
        name = f"b{number:02d}"
        yield Shot(
            f"bag_7/{BAG_DAY}_{name}.jpg", "bag_7", name, _time(BAG_DAY, number),
            posed(fish, rng), _card_view(rng, (1180, 760)), quality=80,
        )  # fmt: skip


def _taller_dorsal(spec: FishSpec, share: float) -> FishSpec:
    dorsal = spec.fin("dorsal")
    return spec if dorsal is None else with_fin(spec, "dorsal", length_mm=dorsal.length_mm * share)


def is_male(shot: Shot) -> bool:
    """Tell the sex of a fish of the ordered kind from its true dorsal fin."""
    dorsal = shot.spec.fin("dorsal")
    return dorsal is not None and dorsal.length_mm / shot.spec.standard_length_mm > 0.197


def _lanternback() -> FishSpec:
    """Draw the kind under treatment: slender, no adipose fin, a large tail."""
    spec = resized(
        random_spec(np.random.default_rng(23), body_form="plain"), 28.0, depth_to_sl=0.26
    )
    look = Look(
        back=(0.20, 0.26, 0.30), flank=(0.50, 0.56, 0.58), belly=(0.84, 0.85, 0.82),
        iris=(0.80, 0.72, 0.42),
        patterns=(Pattern("stripe", (0.16, 0.46, 0.62), 0.7, -0.05, 0.14, 8),
                  Pattern("rear", (0.55, 0.24, 0.16), 0.5, 0.8, 0.25, 9)),
        fins=FinLook((0.42, 0.36, 0.30), (0.56, 0.36, 0.24), 0.55, 0.8, -0.25),
        gloss=0.45, scale_rows=11, scale_contrast=0.4,
    )  # fmt: skip
    spec = replace(spec, look=look)
    spec = with_fin(spec, "caudal", length_mm=9.2, kind="forked", depth=0.42)
    spec = with_fin(spec, "dorsal", length_mm=5.6, kind="triangular")
    return with_fin(spec, "anal", length_mm=4.0)


# Share of the tail that is missing at each visit: tissue is shed first, then it grows back.
_MISSING = {
    "ember": (0.15, 0.21, 0.17, 0.12, 0.07, 0.03),
    "reed": (0.10, 0.12, 0.10, 0.07, 0.04, 0.02),
    "flint": (0.0,) * 6,
    "moss": (0.0,) * 6,
}
_CLAMPED = (0.9, 0.9, 0.5, 0.0, 0.0, 0.0)


def _treatment(rng: np.random.Generator) -> Iterator[Shot]:
    kind = _lanternback()
    for order, (name, missing) in enumerate(_MISSING.items()):
        adult = varied(kind, rng, 0.02)
        first_mm = (25.6, 25.0, 22.4, 25.2)[order]
        # "flint" only grows; the others hardly do.
        growth = 0.025 if name == "flint" else 0.003
        for visit, day in enumerate(VISITS):
            fish = resized(adult, first_mm * (1 + growth) ** visit, depth_to_sl=0.26)
            fish = with_fin(fish, "caudal", damages=_tail_damage(name, missing[visit]))
            if name == "moss":
                for part in ("dorsal", "anal", "caudal"):
                    fish = with_fin(fish, part, folded=_CLAMPED[visit])
            yield Shot(
                f"treatment/{day}_{name}.jpg", "treatment", name, _time(day, order),
                posed(fish, rng), _card_view(rng, (1800, 1150)), quality=86,
            )  # fmt: skip


def _tail_damage(name: str, missing: float) -> tuple[Damage, ...]:
    if not missing:
        return ()
    if name == "ember":
        return (
            Damage("shortening", depth=missing),
            Damage("fray", 0.25, min(missing + 0.06, 0.25), 0.3, seed=4),
            Damage("bite", 0.78, missing * 0.6 + 0.05),
        )
    return (Damage("bite", 0.2, missing + 0.05), Damage("slit", 0.7, 2.0 * missing, 0.03))


def _juveniles(rng: np.random.Generator) -> Iterator[Shot]:
    kind = _quillfin()
    for tank, gain in (("tank_a", 1.7), ("tank_b", 1.45), ("tank_c", 1.0)):
        for week in JUVENILE_WEEKS:
            day = HATCHED + timedelta(weeks=week)
            for number in range(1, 4):
                length = 9.5 + gain * (week - 3) + rng.normal(0, 0.7)
                fish = varied(resized(kind, length, depth_to_sl=0.25), rng, 0.04)
                view = replace(
                    _card_view(rng, (1120, 720), "squares"),
                    fish_at_mm=(rng.uniform(-10, 10), rng.uniform(-6, 6)),
                )  # fmt: skip
                name = f"w{week:02d}-{number}"
                yield Shot(
                    f"juveniles/{tank}/{day}_{name}.jpg", tank, name, _time(day, number),
                    posed(fish, rng), view, outlined=(), quality=78,
                )  # fmt: skip


def _counter(rng: np.random.Generator) -> Shot:
    spec = random_spec(rng, body_form="livebearer_male")
    seen = FinLook((0.80, 0.58, 0.28), (0.88, 0.70, 0.42), 0.45, 0.75, -0.3)
    spec = replace(spec, look=replace(spec.look, fins=seen))
    view = View(
        900, 640, facing="right", fish_angle_deg=-9.0, ground="plants", blur_px=1.7, noise=5.0,
        light_fall=0.35, glare=0.2, haze=0.12, jpeg_quality=0,
    )  # fmt: skip
    day = date(2026, 5, 9)
    return Shot(
        "counter/customer_photo.jpg", "counter", "1", _time(day, 1), spec, view, "sex", (), 60
    )


def _refused(rng: np.random.Generator) -> Iterator[Shot]:
    kind = _quillfin()
    view = _card_view(rng, (1180, 760))
    yield Shot(
        "refused/blurred.jpg", "refused", "1", _time(BAG_DAY, 60), posed(kind, rng),
        replace(view, blur_px=9.0), "none", (),
    )  # fmt: skip
    yield Shot(
        "refused/through_bag.jpg", "refused", "2", _time(BAG_DAY, 61), posed(kind, rng),
        replace(view, haze=0.4, glare=0.7, blur_px=2.0), "none", (), spoilt="bag",
    )  # fmt: skip
