"""Sex by the rules of the body form: what fins can show, and what they cannot."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from finmeasure.landmarks.scheme import body_form
from finmeasure.quantity import Measure

ROD_SHORTEST_TO_SL = 0.12
ROD_WIDEST_TO_LENGTH = 0.25
FAN_WIDEST_TO_LENGTH = 0.35
"""Between the two a fin is neither: a young male's on its way, a folded fan, a misplaced point."""
GROWN_MM = 20.0
BASE_TO_HEIGHT = "anal_base_to_height"
"""Base of the anal fin to its height, formed from marks alone; no measure of the tables."""
RULE_SOURCE = (
    "Poeciliidae: the male's rod is rays 3 to 5 of the anal fin (Hubbs et al. 1991); the limits "
    "of length, width and size are common practice, no source."
)
BETWEEN = (
    "Between a rod and a fan: a young male whose fin is changing, a folded fan, or a point beside "
    "its place. Wait until the fin is open, and mark its base and tip again."
)
MASCULINISED = "Masculinised females have a lengthened anal fin too, so a rod is no proof."


@dataclass(frozen=True, slots=True)
class SexAnswer:
    """What the fins say of the sex.

    Parameters
    ----------
    answer : {"male-like", "female-like", "not told yet", "cannot tell"}
        Never more than "-like".
    reason : str
        In words, with the figure.
    fin : str
        Fin to look at, or empty.
    caution : str
        What could mislead.
    """

    answer: str
    reason: str
    fin: str = ""
    caution: str = ""

    def __str__(self) -> str:
        """Give answer and reason as a reply to send on."""
        return f"{self.answer}: {self.reason} {self.caution}".strip()


def tell_sex(form_id: str, measures: Mapping[str, Measure]) -> SexAnswer:
    """Tell the sex by the rule of the body form, where there is one.

    Parameters
    ----------
    form_id : str
        Body form; only ``livebearer`` has a rule, all others have a note.
    measures : mapping of str to Measure
        Of one fish, by id.

    Examples
    --------
    >>> tell_sex("puffer", {}).answer
    'cannot tell'
    """
    form = body_form(form_id)
    if form.id.split("+")[0] == "livebearer":
        return _rod_or_fan(measures)
    fin = next((fin for fin in ("dorsal", "anal", "pelvic", "pectoral") if fin in form.tells), "")
    note = "no rule by one fin's figures holds for this body form."
    return SexAnswer("cannot tell", f"{note} {form.sex_note}", fin)


def _rod_or_fan(measures: Mapping[str, Measure]) -> SexAnswer:
    """Livebearers of the guppy family: rod or fan."""
    length = _value(measures, "anal_rod_to_sl") or _value(measures, "anal_height_to_sl")
    if length is None and (shape := _value(measures, BASE_TO_HEIGHT)) is not None:
        return _by_shape_alone(shape, _value(measures, "standard_length"))
    if length is None:
        reason = "the anal fin (the single one behind the vent) was not measured."
        return SexAnswer("cannot tell", reason, "anal", "Mark its front base point and its tip.")
    width, what = _value(measures, "anal_rod_width_to_sl"), ""
    if width is None:
        width, what = _value(measures, "anal_base_length_to_sl"), " at its base"
    if width is None:
        return SexAnswer(
            "cannot tell", "its length alone does not tell a rod from a fan.", "anal",
            "Mark the rear end of its base too.",
        )  # fmt: skip
    figures = f"{length:.0%} of standard length, {width / length:.0%} as wide{what} as long"
    figures = figures.replace("%", " %")
    if length >= ROD_SHORTEST_TO_SL and width / length <= ROD_WIDEST_TO_LENGTH:
        return SexAnswer("male-like", f"the anal fin is a rod ({figures}).", "anal", MASCULINISED)
    if length >= ROD_SHORTEST_TO_SL and width / length < FAN_WIDEST_TO_LENGTH:
        reason = f"the anal fin is neither a rod nor a fan ({figures})."
        return SexAnswer("cannot tell", reason, "anal", BETWEEN)
    size = _value(measures, "standard_length")
    if size is None or size < GROWN_MM:
        told = "its size is not known" if size is None else f"it is only {size:.0f} mm long"
        reason = f"the anal fin is no rod ({figures}), and {told}: a young male looks the same."
        return SexAnswer("not told yet", reason, "anal")
    reason = f"the anal fin is a fan ({figures}) on a fish of {size:.0f} mm."
    return SexAnswer("female-like", reason, "anal", "Late males exist in some strains.")


def _by_shape_alone(base_to_height: float, size_mm: float | None) -> SexAnswer:
    """Rod or fan by base and tip, where snout and tail base are not marked."""
    figures = f"its base is {base_to_height:.0%} of its length".replace("%", " %")
    if base_to_height <= ROD_WIDEST_TO_LENGTH:
        caution = f"Its length against the body was not checked. {MASCULINISED}"
        return SexAnswer("male-like", f"the anal fin is a rod ({figures}).", "anal", caution)
    if base_to_height < FAN_WIDEST_TO_LENGTH:
        reason = f"the anal fin is neither a rod nor a fan ({figures})."
        return SexAnswer("cannot tell", reason, "anal", BETWEEN)
    if size_mm is None or size_mm < GROWN_MM:
        told = "its size is not known" if size_mm is None else f"it is only {size_mm:.0f} mm long"
        reason = f"the anal fin is no rod ({figures}), and {told}: a young male looks the same."
        return SexAnswer("not told yet", reason, "anal")
    reason = f"the anal fin is a fan ({figures}) on a fish of {size_mm:.0f} mm."
    return SexAnswer("female-like", reason, "anal", "Late males exist in some strains.")


def _value(measures: Mapping[str, Measure], name: str) -> float | None:
    found = measures.get(name)
    return found.value if found is not None and found.state == "measured" else None
