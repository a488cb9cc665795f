"""Change, erosion and verdict of every fin at every visit, and its regrowth curve."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from finmeasure.timeseries.allometry import ASSUMED, Allometry
from finmeasure.timeseries.change import (
    DETECTION_FACTOR,
    Change,
    Verdict,
    change_since,
    erosion_against,
    verdicts,
)
from finmeasure.timeseries.curve import Regrowth, fit_regrowth
from finmeasure.timeseries.records import Declared
from finmeasure.timeseries.reference import (
    NO_REFERENCE,
    WholeReference,
    study_allometry,
    whole_reference,
)
from finmeasure.timeseries.visits import FinSeries, FinVisit

#: One of five sectors scatters more than the mean of all lines (see docs/method/fin_edges.md).
SECTOR_U_FACTOR = 1.1
LossVerdict = Literal["tissue missing", "no loss to be seen", "longer than whole", "cannot tell"]
VISITS_FOR_CURVE = 3


@dataclass(frozen=True, slots=True, eq=False)
class JudgedVisit:
    """One fin at one visit, compared.

    Parameters
    ----------
    change, step, erosion : Change, optional
        Since the first visit, since the visit before, and against the whole reference; None at
        the first visit, and where nothing whole is on record.
    sector_change, sector_erosion : tuple of Change
        The same for five bands; empty where the fin was not traced.
    """

    visit: FinVisit
    change: Change | None = None
    step: Change | None = None
    erosion: Change | None = None
    sector_change: tuple[Change, ...] = ()
    sector_erosion: tuple[Change, ...] = ()
    change_verdict: Verdict | None = None
    step_verdict: Verdict | None = None
    loss: LossVerdict = "cannot tell"


@dataclass(frozen=True, slots=True, eq=False)
class JudgedSeries:
    """One fin of one fish over time, judged.

    Parameters
    ----------
    reference : WholeReference, optional
        What erosion is measured against.
    regrowth : Regrowth, optional
        Fitted to the share of the whole length, in days since the first visit.
    regrowth_reason : str
        Why there is no curve.
    """

    series: FinSeries
    visits: tuple[JudgedVisit, ...]
    allometry: Allometry
    reference: WholeReference | None = None
    regrowth: Regrowth | None = None
    regrowth_reason: str = ""

    @property
    def last(self) -> JudgedVisit:
        """The newest visit."""
        return self.visits[-1]


def judge(
    every: Sequence[FinSeries],
    declared: Sequence[Declared] = (),
    kinds: Mapping[str, str] | None = None,
) -> tuple[JudgedSeries, ...]:
    """Compare every visit with the first one and with a whole fin; give verdicts and curves.

    Parameters
    ----------
    every : sequence of FinSeries
        All fins of a study; the verdicts of all of them are one family.
    declared : sequence of Declared
        Whole references.
    kinds : mapping of str to str, optional
        Kind of fish by group.

    Returns
    -------
    tuple of JudgedSeries
        Those of named fish, in the order given.
    """
    allometry = study_allometry(every, declared)
    compared = [
        _compared(
            series,
            whole_reference(series, every, declared, kinds or {}),
            allometry.get(series.fin, ASSUMED),
        )
        for series in every
        if series.named
    ]
    return tuple(_with_curve(one) for one in _with_verdicts(compared))


def _compared(
    series: FinSeries, reference: WholeReference | None, allometry: Allometry
) -> JudgedSeries:
    first, before = series.visits[0], (None, *series.visits[:-1])
    visits = tuple(
        JudgedVisit(
            visit,
            change=None if visit is first else change_since(first.value, visit.value, allometry),
            step=None if last is None else change_since(last.value, visit.value, allometry),
            erosion=_erosion(reference, visit, allometry),
            sector_change=() if visit is first else _by_sector(first, visit, allometry),
            sector_erosion=_eroded_sectors(reference, visit, allometry),
        )
        for visit, last in zip(series.visits, before, strict=True)
    )
    return JudgedSeries(series, visits, allometry, reference)


def _erosion(
    reference: WholeReference | None, visit: FinVisit, allometry: Allometry
) -> Change | None:
    """Tell what is missing, like lengths being compared."""
    if reference is None:
        return None
    now = visit.straight if reference.straight else visit.value
    return None if now is None else erosion_against(reference.value, now, allometry)


def _by_sector(first: FinVisit, later: FinVisit, allometry: Allometry) -> tuple[Change, ...]:
    """Change of five bands; each carries the uncertainty of the whole fin and a little more."""
    return tuple(
        change_since(
            replace(first.value, ratio=was, u=_share(first, was)),
            replace(later.value, ratio=now, u=_share(later, now)),
            allometry,
        )
        for was, now in zip(first.sectors, later.sectors, strict=False)
        if was > 0
    )


def _eroded_sectors(
    reference: WholeReference | None, visit: FinVisit, allometry: Allometry
) -> tuple[Change, ...]:
    if reference is None or not reference.sectors:
        return ()
    whole = FinVisit(visit.day, reference.value, reference.sectors, math.nan, math.nan, ())
    changes = _by_sector(whole, visit, allometry)
    return tuple(Change(-change.percent, change.u) for change in changes)


def _share(visit: FinVisit, ratio: float) -> float:
    return SECTOR_U_FACTOR * ratio * visit.value.u / visit.value.ratio


def _with_verdicts(compared: Sequence[JudgedSeries]) -> list[JudgedSeries]:
    """Judge all changes of the study together, and so all steps and all losses."""
    families = {
        name: iter(verdicts([found for found in _all(compared, name) if found is not None]))
        for name in ("change", "step", "erosion")
    }
    return [
        replace(one, visits=tuple(_judged(visit, families) for visit in one.visits))
        for one in compared
    ]


def _all(compared: Sequence[JudgedSeries], name: str) -> list[Change | None]:
    return [getattr(visit, name) for one in compared for visit in one.visits]


def _judged(visit: JudgedVisit, families: Mapping[str, Iterator[Verdict]]) -> JudgedVisit:
    def next_of(name: str) -> Verdict | None:
        return None if getattr(visit, name) is None else next(families[name])

    change, step, erosion = next_of("change"), next_of("step"), next_of("erosion")
    loss = _loss(visit.erosion, erosion)
    return replace(visit, change_verdict=change, step_verdict=step, loss=loss)


def _loss(erosion: Change | None, verdict: Verdict | None) -> LossVerdict:
    if erosion is None or verdict == "cannot tell":
        return "cannot tell"
    if verdict == "no change to be seen":
        return "no loss to be seen"
    return "tissue missing" if erosion.percent > 0 else "longer than whole"


def _with_curve(one: JudgedSeries) -> JudgedSeries:
    """Fit the regrowth of a fin that was seen eroded and photographed often enough since."""
    if one.reference is None:
        return replace(one, regrowth_reason=NO_REFERENCE)
    visits = [visit for visit in _since_shortest(one.visits) if visit.erosion is not None]
    if all(visit.loss != "tissue missing" for visit in one.visits):
        return replace(one, regrowth_reason="No loss was seen that could grow back.")
    if len(visits) < VISITS_FOR_CURVE:
        reason = (
            f"{len(visits)} visits since the fin was shortest; a regrowth curve needs at least "
            f"{VISITS_FOR_CURVE}. Photograph the fish again in a few days."
        )
        return replace(one, regrowth_reason=reason)
    whole = one.reference.value
    shares = [1.0 - visit.erosion.percent / 100.0 for visit in visits if visit.erosion is not None]
    # The reference's own doubt is one for all visits: it stands in the whole length, not here.
    us = [
        share * math.hypot(visit.visit.value.u / visit.visit.value.ratio, 1e-6)
        for share, visit in zip(shares, visits, strict=True)
    ]
    days = [visit.visit.value.day for visit in visits]
    regrowth = fit_regrowth(days, shares, us, whole=1.0, whole_u=max(whole.u / whole.ratio, 1e-4))
    return replace(one, regrowth=regrowth)


def _since_shortest(visits: Sequence[JudgedVisit]) -> Sequence[JudgedVisit]:
    """Leave out what comes before an early dip: tissue is shed before a fin regrows.

    The dip counts where the fall from the first visit is beyond its smallest visible change, else
    the shortest visit would be chosen by chance.
    """
    falls = [
        visit.change.percent if visit.change is not None else 0.0
        for visit in visits
    ]  # fmt: skip
    lowest = min(range(len(visits)), key=falls.__getitem__)
    change = visits[lowest].change
    if change is None or -change.percent < DETECTION_FACTOR * change.u:
        return visits
    return visits[lowest:]
