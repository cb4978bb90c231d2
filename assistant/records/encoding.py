"""An event's detail <-> one line of canonical JSON: fields in the order of their class, nothing left out."""

from __future__ import annotations

from typing import Any, get_args

import msgspec

from assistant.domain.job_events import Detail
from assistant.domain.job_terms import EventKind
from assistant.errors import RecordBroken

CLASSES: dict[EventKind, type[Any]] = {cls.kind: cls for cls in get_args(Detail)}


def encoded(detail: Detail) -> str:
    """The line; what no file can hold (half of a surrogate pair from a broken terminal) becomes a question mark."""
    return msgspec.json.encode(_clean(msgspec.to_builtins(detail))).decode()


def decoded(kind: str, body: str) -> Detail:
    """The detail of a stored line.

    Raises:
        RecordBroken: a kind that does not exist, or a body that does not fit it.

    """
    try:
        found: Detail = msgspec.json.decode(body, type=CLASSES[EventKind(kind)])
    except (ValueError, KeyError, TypeError) as error:
        raise RecordBroken(
            f"An event of kind `{kind}` cannot be read: {error}", "`handlamp jobs verify` lists what is wrong."
        ) from error
    return found


def clean_text(text: str) -> str:
    """The text as it can be stored."""
    return text.encode("utf-8", "replace").decode()


def _clean(value: Any) -> Any:
    match value:
        case str():
            return clean_text(value)
        case dict():
            return {key: _clean(item) for key, item in value.items()}
        case list() | tuple():
            return [_clean(item) for item in value]
        case _:
            return value
