"""The second click of a double click must not set a second point."""

from __future__ import annotations

import math

WITHIN_S = 0.45  # a little longer than the usual double-click time of 0.4 s
WITHIN_SCREEN_PX = 3.0  # the hand of a double click hardly moves


class DoubleClickGuard:
    """Remembers the last click that counted.

    Examples
    --------
    >>> guard = DoubleClickGuard()
    >>> [guard.drops((5.0, 5.0), 1.0, time_s) for time_s in (1.0, 1.2, 3.0)]
    [False, True, False]
    """

    def __init__(self) -> None:
        """Begin without a click."""
        self._last: tuple[tuple[float, float], float, float] | None = None

    def drops(self, place: tuple[float, float], zoom: float, time_s: float) -> bool:
        """Tell whether a click is the tail of a double click; if not, remember it.

        Parameters
        ----------
        place : tuple of float
            Photo pixels (x, y).
        zoom : float
            Screen pixels per photo pixel.
        time_s : float
            Any steady clock.
        """
        if self._last is not None:
            last, last_zoom, last_s = self._last
            near = math.dist(place, last) * zoom <= WITHIN_SCREEN_PX
            if near and zoom == last_zoom and time_s - last_s < WITHIN_S:
                return True
        self._last = (place, zoom, time_s)
        return False

    def forget(self) -> None:
        """Let the next click count in any case."""
        self._last = None
