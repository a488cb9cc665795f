"""Open the window: ``python -m napari_finmeasure [PHOTO | FOLDER | STUDY]``."""

from __future__ import annotations

import sys
from pathlib import Path


def main(arguments: list[str]) -> None:
    """Open what is given and stay until the window is closed.

    Parameters
    ----------
    arguments : list of str
        Paths.
    """
    import napari

    from napari_finmeasure._opening import open_window

    open_window([Path(argument) for argument in arguments])
    napari.run()


if __name__ == "__main__":
    main(sys.argv[1:])
