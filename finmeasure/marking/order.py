"""In which order landmarks are asked for."""

from __future__ import annotations

from collections.abc import Collection, Sequence


def next_open(order: Sequence[str], decided: Collection[str], after: str | None) -> str | None:
    """Give the next landmark that is not decided, going round once at the end.

    Parameters
    ----------
    order : sequence of str
        Landmark names in the order of asking.
    decided : collection of str
        Names that are placed, absent or hidden.
    after : str, optional
        Name to go on from; None starts at the beginning.

    Returns
    -------
    str or None
        None when every one is decided.

    Examples
    --------
    >>> next_open(("a", "b", "c"), {"c"}, "b")
    'a'
    """
    start = order.index(after) + 1 if after in order else 0
    turned = [*order[start:], *order[:start]]
    return next((name for name in turned if name not in decided), None)


def one_before(order: Sequence[str], at: str | None) -> str:
    """Give the landmark before `at`, decided or not; the last one when all are decided.

    Examples
    --------
    >>> one_before(("a", "b"), None)
    'b'
    """
    if at is None or at not in order:
        return order[-1]
    return order[max(order.index(at) - 1, 0)]


def still_open(order: Sequence[str], decided: Collection[str]) -> tuple[str, ...]:
    """Give the landmarks that are still to be decided, in order.

    Examples
    --------
    >>> still_open(("a", "b", "c"), {"b"})
    ('a', 'c')
    """
    return tuple(name for name in order if name not in decided)
