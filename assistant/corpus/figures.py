"""Authored value -> the words in which it is printed, and `{name}` references -> values."""

from __future__ import annotations

import dataclasses
import re
from collections.abc import Mapping, Sequence
from typing import Any, TypeVar

from assistant.domain.terms import Value

REFERENCE = re.compile(r"\{([a-z][a-z0-9_]*)(!?)\}")
"""`{name}` prints the value with its limit word, `{name!}` the bare figure ("longer than {limit!}")."""
LIMIT_WORD = re.compile(r"^(?:about )?(?:at most |at least )")
UNTOUCHED = frozenset({"id", "phrasings", "aliases", "see", "place", "pack", "patterns", "benign", "words", "values"})
"""Fields in which a brace is not a reference: names, and what people say."""

T = TypeVar("T")


def format_value(value: Value) -> str:
    """The value as printed: "24 V DC ± 1 V DC", "2 mm to 3 mm", "at most 1.2 V", "about 3 %", or its text."""
    if value.text:
        return value.text
    unit = f" {value.unit}" if value.unit else ""
    if value.min is not None and value.max is not None:
        printed = f"{value.min}{unit} to {value.max}{unit}"
    elif value.max is not None:
        printed = f"at most {value.max}{unit}"
    elif value.min is not None:
        printed = f"at least {value.min}{unit}"
    else:
        printed = f"{value.value}{unit}"
        if value.tolerance is not None:
            own_unit = "" if isinstance(value.tolerance, str) else unit
            printed += f" ± {value.tolerance}{own_unit}"
    return f"about {printed}" if value.about else printed


def references(text: str) -> tuple[str, ...]:
    """The names referred to, in order."""
    return tuple(match.group(1) for match in REFERENCE.finditer(text))


def find_value(name: str, tables: Sequence[Mapping[str, Value]]) -> Value | None:
    """The value of that name in the first table that has it."""
    for table in tables:
        if name in table:
            return table[name]
    return None


def resolve_text(text: str, tables: Sequence[Mapping[str, Value]]) -> str:
    """The text with each known reference printed; an unknown one stays (the lint has reported it)."""

    def printed(match: re.Match[str]) -> str:
        value = find_value(match.group(1), tables)
        if value is None:
            return match.group(0)
        return LIMIT_WORD.sub("", format_value(value)) if match.group(2) else format_value(value)

    return REFERENCE.sub(printed, text)


def resolve(item: T, tables: Sequence[Mapping[str, Value]]) -> T:
    """The same dataclass, tuple or string with every reference printed."""
    return _resolve(item, tables)  # type: ignore[no-any-return]


def _resolve(item: Any, tables: Sequence[Mapping[str, Value]]) -> Any:
    if isinstance(item, str) and type(item) is str:
        return resolve_text(item, tables) if "{" in item else item
    if isinstance(item, tuple):
        return tuple(_resolve(part, tables) for part in item)
    if dataclasses.is_dataclass(item) and not isinstance(item, (type, Value)):
        changes = {
            f.name: _resolve(getattr(item, f.name), tables) for f in dataclasses.fields(item) if f.name not in UNTOUCHED
        }
        return dataclasses.replace(item, **changes)
    return item
