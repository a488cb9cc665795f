"""Read a TOML file so that every complaint names the file, the line and what is allowed."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Collection
from dataclasses import dataclass
from pathlib import Path
from typing import Any, NoReturn

from finmeasure.errors import TableError

_LARGEST_BYTES = 1_000_000
_HEADER = re.compile(r"^\s*\[\[?\s*([^\[\]]+?)\s*\]\]?\s*(#.*)?$")


@dataclass(frozen=True, slots=True)
class TomlTable:
    """One table of a TOML file, with the way back to its line.

    Parameters
    ----------
    path : Path
        The file.
    text : str
        Its whole text, for line numbers.
    keys : tuple of str
        Where this table stands in the file; empty for the whole file.
    values : dict
        What the table holds.
    """

    path: Path
    text: str
    keys: tuple[str, ...]
    values: dict[str, Any]

    def refuse_unknown(self, allowed: Collection[str]) -> None:
        """Refuse keys that are not in the list.

        Raises
        ------
        TableError
            Naming file, line, key and the keys that are allowed.
        """
        for key in self.values:
            if key not in allowed:
                self.refuse(key, f"key {key!r} is not known", ", ".join(sorted(allowed)))

    def refuse(self, key: str, given: str, allowed: str) -> NoReturn:
        """Raise for one key.

        Raises
        ------
        TableError
            Always.
        """
        message = f"{self.path.name}, line {self.line_of(key)}: {given}. Allowed: {allowed}."
        raise TableError(message)

    def line_of(self, key: str) -> int:
        """Line number, from 1, on which a key of this table (or its header) stands."""
        here: tuple[str, ...] = ()
        header_line = 1
        assignment = re.compile(rf"""^\s*["']?{re.escape(key)}["']?\s*[=.]""")
        for number, line in enumerate(self.text.splitlines(), start=1):
            if header := _HEADER.match(line):
                here = tuple(part.strip(" \"'") for part in header.group(1).split("."))
                if here[: len(self.keys) + 1] == (*self.keys, key):
                    return number
                header_line = number if here == self.keys else header_line
            elif here == self.keys and assignment.match(line):
                return number
        return header_line

    def table(self, key: str) -> TomlTable:
        """Sub-table of a key; empty where the key is missing."""
        value = self.values.get(key, {})
        if not isinstance(value, dict):
            self.refuse(key, f"{key} is {value!r}", "a table of keys and values")
        return TomlTable(self.path, self.text, (*self.keys, key), value)

    def word(self, key: str) -> str:
        """Text of a key that must be there and must not be empty."""
        value = self._needed(key)
        if not isinstance(value, str) or not value.strip():
            self.refuse(key, f"{key} is {value!r}", "a text in quotes")
        return value

    def words(self, key: str, allowed: Collection[str] | None = None) -> tuple[str, ...]:
        """List of texts, each once and each in `allowed` where that is given."""
        value = self._needed(key)
        if not isinstance(value, list) or not all(isinstance(item, str) for item in value):
            self.refuse(key, f"{key} is {value!r}", "a list of texts in quotes")
        for item in value:
            if allowed is not None and item not in allowed:
                self.refuse(key, f"{key} holds {item!r}", ", ".join(allowed) or "nothing")
        if len(set(value)) < len(value):
            self.refuse(key, f"{key} names something twice", "each name once")
        return tuple(value)

    def number(self, key: str, low: float, high: float) -> float:
        """Give a number within limits."""
        value = self._needed(key)
        if isinstance(value, bool) or not isinstance(value, (int, float)):
            self.refuse(key, f"{key} is {value!r}", f"a number from {low:g} to {high:g}")
        if not low <= value <= high:
            self.refuse(key, f"{key} is {value!r}", f"a number from {low:g} to {high:g}")
        return float(value)

    def yes_or_no(self, key: str) -> bool:
        """Truth value of a key."""
        value = self._needed(key)
        if not isinstance(value, bool):
            self.refuse(key, f"{key} is {value!r}", "true or false")
        return value

    def _needed(self, key: str) -> Any:
        if key not in self.values:
            where = ".".join(self.keys) or "the file"
            self.refuse(key, f"{key} is missing in {where}", "a value for it; add the line")
        return self.values[key]


def read_toml(path: Path) -> TomlTable:
    """Read a TOML file.

    Parameters
    ----------
    path : Path
        The file.

    Returns
    -------
    TomlTable
        The whole file as one table.

    Raises
    ------
    TableError
        If the file cannot be read, is too large or is not TOML; the text names the line.
    """
    try:
        with path.open("rb") as file:
            raw = file.read(_LARGEST_BYTES + 1)
        if len(raw) > _LARGEST_BYTES:
            message = f"{path.name} is larger than {_LARGEST_BYTES} bytes. Give a definition file."
            raise TableError(message)
        text = raw.decode("utf-8-sig")
        return TomlTable(path, text, (), tomllib.loads(text.replace("\r\n", "\n")))
    except OSError as error:
        message = f"{path.name} cannot be read: {error.strerror or error}. Check the file."
        raise TableError(message) from error
    except UnicodeDecodeError as error:
        message = f"{path.name} is not UTF-8 text. Save it as UTF-8."
        raise TableError(message) from error
    except (tomllib.TOMLDecodeError, RecursionError, ValueError) as error:
        message = f"{path.name} is not valid TOML: {error}. Allowed: key = value lines."
        raise TableError(message) from error
