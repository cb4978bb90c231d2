"""ISO 8601 strings -> moments that can be compared; nothing here reads a clock."""

from __future__ import annotations

from datetime import date, datetime

from assistant.errors import RecordError


def moment(text: str) -> datetime:
    """The moment of a string with an offset (`2026-11-25T08:10:00+01:00`).

    Raises:
        RecordError: no ISO 8601 time, or one without an offset, which could not be compared with others.

    """
    try:
        found = datetime.fromisoformat(text)
    except ValueError:
        found = None
    if found is None or found.tzinfo is None:
        raise RecordError(f"`{text}` is no time of the record.", "Times are written like 2026-11-25T08:10:00+01:00.")
    return found


def minutes_between(earlier: str, later: str) -> float:
    """Minutes from one moment to another; negative when a clock was set back."""
    return (moment(later) - moment(earlier)).total_seconds() / 60


def day(text: str) -> str:
    """The same string when it is a date (`2026-11-25`).

    Raises:
        RecordError: it is none.

    """
    try:
        return date.fromisoformat(text).isoformat()
    except ValueError as error:
        raise RecordError(f"`{text}` is no date.", "Dates are written like 2026-11-25.") from error
