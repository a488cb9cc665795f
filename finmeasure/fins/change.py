"""Two records of one fin against each other: change over time, and erosion against a whole fin."""

from __future__ import annotations

import math
from dataclasses import dataclass

from finmeasure.errors import DefinitionError
from finmeasure.fins.records import SECTORS, RayProfile, in_words
from finmeasure.quantity import Measure

#: Standard uncertainty of one record from posture and curl of the fin, % of its length
#: (assumed; a series estimates its own from repeated photos).
POSTURE_U_PCT = 1.5
#: One of five sectors scatters more than the mean of all lines.
SECTOR_U_FACTOR = 1.1


@dataclass(frozen=True, slots=True)
class FinComparison:
    """One fin compared with an earlier or a whole record, as a whole and in five sectors."""

    measure: Measure
    sectors: tuple[Measure, ...]


def fin_change(
    first: RayProfile | None, later: RayProfile | None, *, fin: str,
    posture_u_pct: float = POSTURE_U_PCT,
) -> FinComparison:  # fmt: skip
    """Change of a fin's length relative to standard length since this fish's first record.

    Parameters
    ----------
    first, later : RayProfile, optional
        Of the same fin of the same fish; None where a record has none.
    fin : str
        Part.
    posture_u_pct : float
        Standard uncertainty of one record from posture, %.

    Returns
    -------
    FinComparison
        ``<fin>_change`` in %: −10 is a tenth shorter; the scale cancels.

    Raises
    ------
    DefinitionError
        If the records are of different fins.
    """
    return _compared(f"{fin}_change", fin, (first, later), posture_u_pct, sign=1.0)


def fin_erosion(
    reference: RayProfile | None, now: RayProfile | None, *, fin: str, own_record: bool,
    posture_u_pct: float = POSTURE_U_PCT,
) -> FinComparison:  # fmt: skip
    """Share of a fin's length that is missing against a declared whole reference.

    Parameters
    ----------
    reference : RayProfile, optional
        The fish's own record before the damage, the mean of healthy mates, or a species row;
        None where nothing was declared.
    now : RayProfile, optional
        The record to judge.
    fin : str
        Part.
    own_record : bool
        True where the reference is the fish's own record.
    posture_u_pct : float
        Standard uncertainty of one record from posture, %.

    Returns
    -------
    FinComparison
        ``<fin>_erosion`` in %: 10 is a tenth missing.

    Raises
    ------
    DefinitionError
        If the records are of different fins.
    """
    name = f"{fin}_erosion"
    if reference is None:
        return _refused(name, ("no_whole_reference",), "no whole reference")
    if now is not None and "free_tips" in now.flags and not own_record:
        reason = f"The {in_words(fin)} fin has free ray tips: only its own record can be compared."
        return _refused(name, ("free_tips",), reason)
    return _compared(name, fin, (reference, now), posture_u_pct, sign=-1.0)


def _compared(
    name: str,
    fin: str,
    records: tuple[RayProfile | None, RayProfile | None],
    posture_u_pct: float,
    *,
    sign: float,
) -> FinComparison:
    """Relative difference of two records, %, times `sign`."""
    before, after = records
    if before is None or after is None:
        return _refused(
            name, (), f"The {in_words(fin)} fin gave no lengths in one of the two records."
        )
    if {before.fin, after.fin} != {fin}:
        message = f"Records of {before.fin!r} and {after.fin!r} given, both must be {fin!r}."
        raise DefinitionError(message)
    flags = tuple(sorted({*before.flags, *after.flags}))
    if "edge_not_visible" in flags:
        return _refused(
            name, flags, f"The {in_words(fin)} fin's edge cannot be seen in one of the records."
        )
    u_rel = math.hypot(_record_u(before, posture_u_pct), _record_u(after, posture_u_pct))
    bases = _common_base(before, after)
    base = sum(bases) / len(bases)
    ratio = (after.mean_to_sl - base) / (before.mean_to_sl - base)
    sectors = tuple(
        _ratio(
            f"{name}_{number}", (later - bulge) / (first - bulge), u_rel * SECTOR_U_FACTOR, sign,
            flags,
        )
        for number, (first, later, bulge) in enumerate(
            zip(before.sectors_to_sl, after.sectors_to_sl, bases, strict=True), start=1
        )
    )  # fmt: skip
    return FinComparison(_ratio(name, ratio, u_rel, sign, flags), sectors)


def _common_base(before: RayProfile, after: RayProfile) -> tuple[float, ...]:
    """Where the rays begin, by sector: the mean of both records.

    Taken from each record by itself it would add the doubt about one click to every change.
    """
    pairs = zip(before.base_to_sl, after.base_to_sl, strict=True)
    return tuple((one + other) / 2.0 for one, other in pairs)


def _ratio(name: str, ratio: float, u_rel: float, sign: float, flags: tuple[str, ...]) -> Measure:
    """Give a ratio of two records as a percentage of the first."""
    value = sign * 100.0 * (ratio - 1.0)
    return Measure(name, "%", "measured", value, 100.0 * ratio * u_rel, flags)


def _record_u(record: RayProfile, posture_u_pct: float) -> float:
    """Relative standard uncertainty of one record: profile, standard length, posture."""
    length = record.u_standard_length / record.standard_length
    return math.hypot(record.u_rel, length, posture_u_pct / 100.0)


def _refused(name: str, flags: tuple[str, ...], reason: str) -> FinComparison:
    """Refuse a comparison and all its sectors."""
    names = (name, *(f"{name}_{number}" for number in range(1, SECTORS + 1)))
    first, *rest = (Measure(each, "%", "refused", flags=flags, reason=reason) for each in names)
    return FinComparison(first, tuple(rest))


def length_change(first: Measure, later: Measure, *, first_side: str, later_side: str) -> Measure:
    """Change of a length of one paired fin (``<id>_to_sl``), %, only between the same sides.

    Parameters
    ----------
    first, later : Measure
        The same ratio in two records.
    first_side, later_side : str
        ``left`` or ``right``.

    Returns
    -------
    Measure
        ``<id>_change``; refused where a record was not measured or the sides differ.
    """
    name = f"{first.id}_change"
    if first_side != later_side:
        reason = f"One photo shows the {first_side}, the other the {later_side} side."
        return Measure(name, "%", "refused", reason=reason)
    if not first.value or later.value is None:
        return Measure(name, "%", "refused", reason="One of the two records has no such length.")
    ratio = later.value / first.value
    u_rel = math.hypot((first.u or 0.0) / first.value, (later.u or 0.0) / (later.value or 1.0))
    return _ratio(name, ratio, u_rel, 1.0, tuple(sorted({*first.flags, *later.flags})))
