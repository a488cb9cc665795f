"""A checksum of everything that was given for a photo, to tell whether it must be measured anew."""

from __future__ import annotations

import dataclasses
import hashlib
import json
from collections.abc import Mapping
from datetime import date
from typing import Any

import numpy as np

MARKS_VERSION = "given 1"
"""Changes when the program would make other marks of the same photo; given marks are as given."""


def digest_of(*given: object) -> str:
    """Checksum of records, numbers, texts and arrays.

    Parameters
    ----------
    *given : object
        Dataclass records, mappings, sequences, arrays, numbers, texts, dates, None.

    Returns
    -------
    str
        64 hexadecimal digits; equal for equal things, on every machine.

    Examples
    --------
    >>> digest_of({"a": 1, "b": 2}) == digest_of({"b": 2, "a": 1})
    True
    """
    text = json.dumps([MARKS_VERSION, *given], default=_plain, sort_keys=True, ensure_ascii=True)
    return hashlib.sha256(text.encode()).hexdigest()


def _plain(thing: Any) -> Any:
    """Give a thing as JSON can hold it; its kind stays visible."""
    if dataclasses.is_dataclass(thing) and not isinstance(thing, type):
        fields = {item.name: getattr(thing, item.name) for item in dataclasses.fields(thing)}
        return {"": type(thing).__name__, **fields}
    if isinstance(thing, Mapping):
        return dict(thing)
    if isinstance(thing, np.ndarray | np.generic):
        return thing.tolist()
    if isinstance(thing, date):
        return thing.isoformat()
    message = f"A {type(thing).__name__} cannot be part of a digest."
    raise TypeError(message)
