"""KEEP and RETAKE in letters that can be read across a room."""

from __future__ import annotations

_LETTERS = {
    "A": (" ## ", "#  #", "####", "#  #", "#  #"),
    "E": ("####", "#   ", "### ", "#   ", "####"),
    "K": ("#  #", "# # ", "##  ", "# # ", "#  #"),
    "P": ("### ", "#  #", "### ", "#   ", "#   "),
    "R": ("### ", "#  #", "### ", "# # ", "#  #"),
    "T": ("#####", "  #  ", "  #  ", "  #  ", "  #  "),
}


def big(word: str, ink: str = "#") -> tuple[str, ...]:
    r"""Write KEEP or RETAKE five rows high.

    Parameters
    ----------
    word : str
        Of the letters A, E, K, P, R and T.
    ink : str
        One sign; each is written twice, because signs are about twice as high as wide.

    Returns
    -------
    tuple of str
        Five rows of equal length.

    Examples
    --------
    >>> print("\n".join(row.rstrip() for row in big("TA", "O")))
    OOOOOOOOOO    OOOO
        OO      OO    OO
        OO      OOOOOOOO
        OO      OO    OO
        OO      OO    OO
    """
    rows = (" ".join(_LETTERS[letter][row] for letter in word) for row in range(5))
    return tuple("".join(2 * (ink if sign == "#" else " ") for sign in row) for row in rows)
