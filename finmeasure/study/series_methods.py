"""The part of a study that gives what is needed for change over time and repeatability."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING

from finmeasure.study.opened import OpenedStudy

if TYPE_CHECKING:
    import pandas as pd

    from finmeasure.landmarks.placement import Placement
    from finmeasure.study.over_time import ChangeOverTime


class SeriesMethods(OpenedStudy):
    """Change over time and repeated readings; imported when used, statistics are heavy."""

    def change_over_time(
        self, *, today: date | None = None, followed_only: bool = False
    ) -> ChangeOverTime:
        """Analyse how the fins of all fish change.

        Parameters
        ----------
        today : datetime.date, optional
            Visits after it are left out and said.
        followed_only : bool
            Only named fish that were photographed on more than one day.
        """
        from finmeasure.study.over_time import change_over_time

        with self._database.reading() as connection:
            return change_over_time(connection, today=today, followed_only=followed_only)

    def has_visits(self) -> bool:
        """Tell whether any named fish was photographed on more than one day."""
        from finmeasure.study.series_queries import followed_fish

        with self._database.reading() as connection:
            return bool(followed_fish(connection))

    def fin_frame(self) -> pd.DataFrame:
        """Give every fin on every photo that counts, one row each."""
        from finmeasure.study.repeat_queries import own_placement_of
        from finmeasure.study.series_queries import fin_records, records_frame

        with self._database.reading() as connection:
            return records_frame(fin_records(connection, own=own_placement_of(connection)))

    def own_placement(self) -> dict[str, Placement]:
        """Estimate how exactly landmarks are placed here, from fish that were marked twice.

        Returns
        -------
        dict of str to Placement
            By landmark, % of standard length; empty where nothing was marked twice. It is the
            default for marks that come without an uncertainty.
        """
        from finmeasure.study.repeat_queries import own_placement_of

        with self._database.reading() as connection:
            return own_placement_of(connection)

    def repeat_frame(self) -> pd.DataFrame:
        """Give every measure of fish that were marked or photographed more than once.

        Returns
        -------
        DataFrame
            Columns photo, fish, group, visit, placed_by, ordinal, measure, unit, value, u.
        """
        from finmeasure.study.repeat_queries import repeat_frame

        with self._database.reading() as connection:
            return repeat_frame(connection)
