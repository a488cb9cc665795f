"""Numbers behind the drawing of each body form.

The shapes are drawn freely after common knowledge of what such fish look like; they are no
measured specimen and no average. Unit: 1 % of standard length; x to the rear from the tip of the
snout, y down from the body axis; the fish faces left.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

Point = tuple[float, float]


@dataclass(frozen=True, slots=True)
class MedianFin:
    """A fin on the back or belly.

    Parameters
    ----------
    front, rear : float
        Where its base starts and ends along the body.
    tip : tuple of float
        Tip: place along the body and height above the body's outline there.
    last : tuple of float
        Tip of the last ray, likewise.
    bulge : float
        How far the margin swells outwards between the two tips.
    dip : tuple of float, optional
        Natural dip in the margin, likewise.
    """

    front: float
    rear: float
    tip: Point
    last: Point
    bulge: float = 2.0
    dip: Point | None = None


@dataclass(frozen=True, slots=True)
class TailFin:
    """The caudal fin: reach of its tips and of its middle behind the body, and its span."""

    tips: float = 25.0
    middle: float = 13.0
    span: float = 30.0
    curve: float = 1.25
    sword: float | None = None


@dataclass(frozen=True, slots=True)
class PairedFin:
    """The near fin of a pair: ends of its base, its tip and the end of its thread."""

    front: Point
    rear: Point
    tip: Point
    thread: Point | None = None


@dataclass(frozen=True, slots=True)
class FormShape:
    """Body and fins of one drawing.

    Parameters
    ----------
    depth, deepest : float
        Greatest depth of the body and where it is.
    belly : float
        Share of the depth that lies below the axis.
    stalk : float
        Least depth of the tail stalk.
    snout_y : float
        Height of the snout tip.
    steepness : float
        How blunt the head is; 1 is usual.
    """

    depth: float = 32.0
    deepest: float = 38.0
    belly: float = 0.55
    stalk: float = 13.0
    snout_y: float = 0.0
    steepness: float = 1.0
    eye: Point = (10.0, -3.0)
    eye_radius: float = 3.6
    gill_end: Point = (26.0, 1.5)
    median: Mapping[str, MedianFin] = field(default_factory=dict)
    tail: TailFin = field(default_factory=TailFin)
    pectoral: PairedFin = PairedFin((27.5, 4.0), (28.5, 8.5), (43.0, 10.0))
    pelvic: PairedFin | None = PairedFin((48.0, 0.0), (53.0, 0.0), (60.0, 11.0))
    barbels: bool = False


_DORSAL = MedianFin(46.0, 60.0, (54.0, 20.0), (65.0, 7.0), 1.0)
_ANAL = MedianFin(64.0, 77.0, (69.0, 13.0), (80.0, 5.0), 0.5)
_ADIPOSE = MedianFin(82.0, 85.0, (88.0, 4.0), (88.0, 4.0), 0.0)
_ROUND_TAIL = TailFin(tips=19.0, middle=26.0, span=25.0, curve=2.0)

_PLAIN = FormShape(median={"dorsal": _DORSAL, "anal": _ANAL})

SHAPES: dict[str, FormShape] = {
    "plain": _PLAIN,
    "adipose": replace(
        _PLAIN,
        depth=35.0,
        median={
            "dorsal": replace(_DORSAL, front=45.0, rear=57.0),
            "adipose": _ADIPOSE,
            "anal": MedianFin(60.0, 84.0, (65.0, 14.0), (87.0, 4.0), -1.5),
        },
        pelvic=PairedFin((45.0, 0.0), (49.0, 0.0), (56.0, 10.0)),
    ),
    "livebearer": replace(
        _PLAIN,
        depth=27.0,
        stalk=17.0,
        snout_y=-3.5,
        eye=(9.5, -3.5),
        eye_radius=4.0,
        median={
            "dorsal": MedianFin(54.0, 68.0, (66.0, 17.0), (78.0, 11.0), 2.0),
            "anal": MedianFin(50.0, 54.0, (69.0, 7.5), (66.0, 6.0), 0.4),
        },
        tail=replace(_ROUND_TAIL, sword=62.0),
        pelvic=PairedFin((41.0, 0.0), (44.0, 0.0), (50.0, 8.0)),
    ),
    "livebearer_female": replace(
        _PLAIN,
        depth=31.0,
        deepest=44.0,
        belly=0.62,
        stalk=16.0,
        snout_y=-3.5,
        eye=(9.5, -3.5),
        eye_radius=3.8,
        median={
            "dorsal": MedianFin(58.0, 70.0, (67.0, 12.0), (76.0, 7.0), 2.0),
            "anal": MedianFin(62.0, 71.0, (70.0, 13.0), (78.0, 6.0), 2.0),
        },
        tail=_ROUND_TAIL,
        pelvic=PairedFin((48.0, 0.0), (52.0, 0.0), (58.0, 7.0)),
    ),
    "inside_fertilising": replace(
        _PLAIN,
        depth=31.0,
        stalk=15.0,
        snout_y=-2.0,
        median={
            "dorsal": MedianFin(60.0, 74.0, (70.0, 13.0), (80.0, 8.0), 2.0),
            "adipose": replace(_ADIPOSE, front=85.0, rear=87.0, tip=(90.0, 3.0), last=(90.0, 3.0)),
            "anal": MedianFin(61.0, 74.0, (65.0, 8.0), (80.0, 9.0), 1.0, dip=(67.5, 4.5)),
        },
        tail=TailFin(tips=20.0, middle=18.0, span=26.0, curve=2.0),
    ),
    "gourami": replace(
        _PLAIN,
        depth=43.0,
        deepest=46.0,
        belly=0.6,
        stalk=15.0,
        snout_y=-3.0,
        gill_end=(28.0, 2.0),
        median={
            "dorsal": MedianFin(47.0, 62.0, (68.0, 19.0), (72.0, 11.0), 1.5),
            "anal": MedianFin(42.0, 92.0, (46.0, 9.0), (95.0, 8.0), 5.0),
        },
        tail=TailFin(tips=23.0, middle=18.0, span=27.0, curve=1.6),
        pelvic=PairedFin((34.0, 0.0), (37.0, 0.0), (42.0, 8.0), thread=(96.0, 36.0)),
    ),
    "betta": replace(
        _PLAIN,
        depth=26.0,
        deepest=36.0,
        stalk=16.0,
        snout_y=-3.0,
        eye_radius=3.4,
        median={
            "dorsal": MedianFin(62.0, 76.0, (79.0, 38.0), (92.0, 27.0), 6.0),
            "anal": MedianFin(44.0, 92.0, (54.0, 22.0), (102.0, 29.0), 8.0),
        },
        tail=TailFin(tips=36.0, middle=50.0, span=58.0, curve=2.0),
        pelvic=PairedFin((35.0, 0.0), (38.0, 0.0), (60.0, 24.0)),
    ),
    "cichlid": replace(
        _PLAIN,
        depth=41.0,
        deepest=38.0,
        belly=0.5,
        stalk=15.0,
        snout_y=2.0,
        eye=(14.0, -5.0),
        gill_end=(32.0, 1.0),
        median={
            "dorsal": MedianFin(34.0, 84.0, (44.0, 11.0), (93.0, 9.0), 3.0, dip=(66.0, 8.0)),
            "anal": MedianFin(64.0, 83.0, (82.0, 13.0), (91.0, 8.0), 1.5),
        },
        tail=TailFin(tips=21.0, middle=24.0, span=29.0, curve=2.0),
        pectoral=PairedFin((33.0, 4.0), (34.0, 9.0), (50.0, 11.0)),
        pelvic=PairedFin((36.0, 0.0), (40.0, 0.0), (56.0, 14.0)),
    ),
    "two_dorsals": replace(
        _PLAIN,
        depth=22.0,
        deepest=32.0,
        belly=0.5,
        stalk=12.0,
        snout_y=1.5,
        eye=(11.0, -5.0),
        gill_end=(28.0, 1.5),
        median={
            "dorsal": MedianFin(34.0, 48.0, (40.0, 15.0), (54.0, 6.0), 1.5),
            "second_dorsal": MedianFin(55.0, 84.0, (61.0, 13.0), (91.0, 9.0), 1.5),
            "anal": MedianFin(57.0, 83.0, (63.0, 11.0), (90.0, 8.0), 1.5),
        },
        tail=_ROUND_TAIL,
        pectoral=PairedFin((29.0, 2.0), (29.5, 7.5), (45.0, 7.0)),
        pelvic=PairedFin((31.0, 0.0), (34.0, 0.0), (48.0, 7.5)),
    ),
    "armoured_catfish": replace(
        _PLAIN,
        depth=34.0,
        deepest=40.0,
        belly=0.42,
        stalk=13.0,
        snout_y=6.0,
        eye=(14.0, -5.0),
        gill_end=(29.0, 3.0),
        steepness=1.15,
        median={
            "dorsal": MedianFin(40.0, 56.0, (47.0, 22.0), (62.0, 7.0), 1.0),
            "adipose": replace(_ADIPOSE, front=79.0, rear=83.0, tip=(88.0, 6.0), last=(88.0, 6.0)),
            "anal": MedianFin(71.0, 79.0, (77.0, 11.0), (83.0, 5.0), 1.0),
        },
        tail=TailFin(tips=28.0, middle=15.0, span=32.0),
        pectoral=PairedFin((28.0, 10.0), (31.0, 11.5), (46.0, 18.0)),
        pelvic=PairedFin((50.0, 0.0), (54.0, 0.0), (60.0, 9.0)),
        barbels=True,
    ),
    "sucker_catfish": replace(
        _PLAIN,
        depth=22.0,
        deepest=36.0,
        belly=0.38,
        stalk=10.0,
        snout_y=5.0,
        eye=(19.0, -5.0),
        eye_radius=2.2,
        gill_end=(29.0, 2.0),
        median={
            "dorsal": MedianFin(40.0, 55.0, (48.0, 22.0), (66.0, 9.0), 1.0),
            "adipose": replace(_ADIPOSE, front=83.0, rear=87.0, tip=(91.0, 4.0), last=(91.0, 4.0)),
            "anal": MedianFin(68.0, 73.0, (76.0, 9.0), (79.0, 5.0), 0.5),
        },
        tail=TailFin(tips=26.0, middle=19.0, span=28.0),
        pectoral=PairedFin((27.0, 6.0), (30.0, 7.5), (50.0, 11.0)),
        pelvic=PairedFin((46.0, 0.0), (50.0, 0.0), (64.0, 7.0)),
        barbels=True,
    ),
    "flat_hillstream": replace(
        _PLAIN,
        depth=17.0,
        deepest=34.0,
        belly=0.3,
        stalk=9.0,
        snout_y=3.0,
        eye=(16.0, -6.0),
        eye_radius=2.4,
        gill_end=(25.0, 1.0),
        median={
            "dorsal": MedianFin(44.0, 57.0, (54.0, 13.0), (63.0, 6.0), 1.0),
            "anal": MedianFin(76.0, 82.0, (83.0, 7.0), (87.0, 4.0), 0.5),
        },
        tail=TailFin(tips=23.0, middle=15.0, span=24.0),
        pectoral=PairedFin((20.0, 4.0), (33.0, 5.0), (42.0, 9.0)),
        pelvic=PairedFin((46.0, 0.0), (56.0, 0.0), (64.0, 4.0)),
    ),
    "loach": replace(
        _PLAIN,
        depth=21.0,
        deepest=40.0,
        belly=0.5,
        stalk=13.0,
        snout_y=3.5,
        eye=(12.0, -3.0),
        eye_radius=2.0,
        gill_end=(24.0, 1.5),
        median={
            "dorsal": MedianFin(48.0, 60.0, (57.0, 14.0), (65.0, 7.0), 1.5),
            "anal": MedianFin(75.0, 82.0, (82.0, 9.0), (87.0, 5.0), 1.0),
        },
        tail=TailFin(tips=23.0, middle=14.0, span=27.0),
        pelvic=PairedFin((52.0, 0.0), (56.0, 0.0), (63.0, 7.0)),
        barbels=True,
    ),
    "killifish": replace(
        _PLAIN,
        depth=22.0,
        deepest=38.0,
        belly=0.55,
        stalk=13.0,
        snout_y=-4.0,
        eye=(9.5, -3.0),
        median={
            "dorsal": MedianFin(66.0, 82.0, (80.0, 15.0), (91.0, 10.0), 1.5),
            "anal": MedianFin(62.0, 82.0, (78.0, 16.0), (91.0, 11.0), 2.0),
        },
        tail=TailFin(tips=24.0, middle=28.0, span=27.0, curve=2.0),
        pelvic=PairedFin((50.0, 0.0), (53.0, 0.0), (59.0, 7.0)),
    ),
    "puffer": replace(
        _PLAIN,
        depth=40.0,
        deepest=36.0,
        belly=0.58,
        stalk=14.0,
        snout_y=-1.0,
        eye=(17.0, -7.0),
        eye_radius=5.0,
        gill_end=(33.0, 3.0),
        median={
            "dorsal": MedianFin(71.0, 79.0, (80.0, 11.0), (85.0, 7.0), 2.0),
            "anal": MedianFin(73.0, 80.0, (82.0, 10.0), (87.0, 6.0), 2.0),
        },
        tail=TailFin(tips=20.0, middle=24.0, span=22.0, curve=2.0),
        pectoral=PairedFin((34.0, -1.0), (34.5, 6.5), (44.0, 5.0)),
        pelvic=None,
    ),
    "long_fin": replace(
        _PLAIN,
        depth=31.0,
        median={
            "dorsal": MedianFin(45.0, 61.0, (64.0, 36.0), (78.0, 22.0), 4.0),
            "anal": MedianFin(63.0, 77.0, (80.0, 30.0), (92.0, 20.0), 4.0),
        },
        tail=TailFin(tips=56.0, middle=32.0, span=52.0, curve=1.4),
        pectoral=PairedFin((27.5, 4.0), (28.5, 8.5), (50.0, 12.0)),
        pelvic=PairedFin((47.0, 0.0), (52.0, 0.0), (72.0, 22.0)),
    ),
}
