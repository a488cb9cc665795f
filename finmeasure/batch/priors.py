"""What the confirmed readings of a study teach about the next proposals of each group."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from typing import TYPE_CHECKING

from finmeasure.proposals.group_prior import FEWEST_PAIRS, GroupPrior, learned
from finmeasure.proposals.propose import PLACED_BY
from finmeasure.reading import Reading

if TYPE_CHECKING:
    from finmeasure.study.store import Study

MOST_PAIRS = 200
"""More readings of a group teach nothing new; the newest count."""


def group_priors(study: Study) -> Mapping[str, GroupPrior]:
    """Learn from every group with enough fish that the program proposed and a person confirmed.

    Parameters
    ----------
    study : Study

    Returns
    -------
    mapping of str to GroupPrior
        By group; groups whose proposals would not get better are left out.
    """
    confirmed = defaultdict(list)
    for reading in study.current_readings():
        if reading.confirmed and reading.source == "person" and reading.group:
            confirmed[reading.group].append(reading)
    found = {}
    for group, readings in confirmed.items():
        if len(readings) < FEWEST_PAIRS:
            continue
        pairs = [
            (proposed, reading.reading)
            for reading in readings[-MOST_PAIRS:]
            if (proposed := _proposed(study, reading.photo, reading.reading.fish)) is not None
        ]
        prior = learned(pairs)
        if prior is not None:
            found[group] = prior
    return found


def _proposed(study: Study, photo: str, fish: str) -> Reading | None:
    """Find the program's newest reading of a fish that no group has taught."""
    made = [
        one.reading
        for one in study.readings_of(photo, fish)
        if one.source == "program" and one.reading.placed_by == PLACED_BY
    ]
    return made[-1] if made else None
