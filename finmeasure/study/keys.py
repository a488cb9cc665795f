"""Keys of rows: unique among all studies, and growing with time."""

from __future__ import annotations

import secrets
import time
import uuid


def new_key() -> uuid.UUID:
    """Make a UUID of version 7 (RFC 9562, 5.7): milliseconds first, then 74 random bits.

    Rows that are made together then lie together in the file. With keys that are random all
    through, every photo touches pages all over a big study, and the last photo costs more than
    the first. Nothing is ever read out of the time, so a clock that was set back does no harm.

    Examples
    --------
    >>> new_key().version
    7
    """
    milliseconds = (time.time_ns() // 1_000_000) & (2**48 - 1)
    version, variant = 0x7 << 76, 0b10 << 62
    high = (milliseconds << 80) | version | (secrets.randbits(12) << 64)
    return uuid.UUID(int=high | variant | secrets.randbits(62))
