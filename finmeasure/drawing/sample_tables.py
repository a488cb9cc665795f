"""Texts and small tables of the invented demo; every name and figure in them is made up."""

from __future__ import annotations

from collections.abc import Sequence

Table = tuple[str, Sequence[Sequence[object]]]

GROUPS: Table = (
    "group,kind,body_form,from,box,bag,invoiced,grade_mm_from,grade_mm_to,alive,dead,"
    "opened_at,claim_until",
    [
        ("bag_7", "ochre quillfin (invented)", "adipose", "a breeder that does not exist", "2", "7",
         48, 25, 32, 46, 2, "2026-05-02T08:40", "2026-05-03T08:40"),
        ("treatment", "blue lanternback (invented)", "plain", "", "", "", "", "", "", 4, 0, "", ""),
        ("tank_a", "ochre quillfin (invented)", "adipose", "own hatch", "", "", "", "", "", "", "",
         "", ""),
        ("tank_b", "ochre quillfin (invented)", "adipose", "own hatch", "", "", "", "", "", "", "",
         "", ""),
        ("tank_c", "ochre quillfin (invented)", "adipose", "own hatch", "", "", "", "", "", "", "",
         "", ""),
        ("counter", "", "livebearer", "", "", "", "", "", "", "", "", "", ""),
    ],
)  # fmt: skip

EVENTS: Table = (
    "group,date,event,note",
    [
        ("bag_7", "2026-05-02", "arrival", "bag opened after the temperature had evened out"),
        ("bag_7", "2026-05-02", "death", "two fish dead in the bag"),
        ("treatment", "2026-03-01", "treatment started", "as agreed with the veterinarian"),
        ("treatment", "2026-03-01", "tank mates taken out", "two large fish moved"),
        ("treatment", "2026-03-02", "water change", "half, same temperature"),
        ("treatment", "2026-03-09", "water change", "a third, same temperature"),
        ("treatment", "2026-03-16", "water change", "a third, same temperature"),
        ("tank_c", "2026-02-23", "crowded", "more fry than in the other two tanks"),
    ],
)

_TESTS = {
    ("bag_7", "2026-05-02T08:50"): (22.0, 6.6, 1.5, 0.0, 5, 6),
    ("treatment", "2026-03-01T08:30"): (25.0, 7.4, 0.25, 0.3, 40, 9),
    ("treatment", "2026-03-06T08:30"): (25.1, 7.3, 0.0, 0.1, 20, 9),
    ("treatment", "2026-03-16T08:30"): (25.0, 7.3, 0.0, 0.0, 15, 9),
    ("treatment", "2026-03-26T08:30"): (24.9, 7.3, 0.0, 0.0, 15, 9),
    ("tank_a", "2026-03-30T08:30"): (25.5, 7.0, 0.0, 0.0, 10, 6),
    ("tank_b", "2026-03-30T08:30"): (25.4, 7.0, 0.0, 0.0, 15, 6),
    ("tank_c", "2026-03-30T08:30"): (25.5, 6.9, 0.1, 0.1, 40, 6),
}
_QUANTITIES = (
    ("temperature", "°C"), ("pH", "1"), ("ammonia", "mg/l"), ("nitrite", "mg/l"),
    ("nitrate", "mg/l"), ("hardness", "°dH"),
)  # fmt: skip

WATER: Table = (
    "group,taken_at,quantity,value,unit",
    [
        (group, taken_at, quantity, value, unit)
        for (group, taken_at), values in _TESTS.items()
        for (quantity, unit), value in zip(_QUANTITIES, values, strict=True)
    ],
)

# Mean and spread of the tails that were drawn whole (truth.csv: flint, reed, moss).
REFERENCES: Table = (
    "name,fin,length_to_sl,sd,length_along,sl_mm,kind,group",
    [
        ("invented table of whole lanternbacks", "caudal", 0.373, 0.011, "straight", "",
         "blue lanternback (invented)", ""),
    ],
)  # fmt: skip
