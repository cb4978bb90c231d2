"""Plain data of a file -> typed authored values, every departure from the schema a fault with its line."""

from __future__ import annotations

import difflib
from collections.abc import Mapping
from typing import Any, TypeVar

from pydantic import TypeAdapter, ValidationError

from assistant.corpus.yaml_lines import Document, Location
from assistant.domain.entries import (
    Code,
    Component,
    Fact,
    FaultModel,
    Maintenance,
    Part,
    Procedure,
    Refusal,
    Signal,
)
from assistant.domain.knowledge import Lexicon, Machine, Wire
from assistant.domain.safety import EnergyRules, HazardWords, SafetyMessage
from assistant.domain.tables import Setting
from assistant.domain.terms import Value

KINDS: Mapping[str, type] = {
    "components": Component,
    "signals": Signal,
    "codes": Code,
    "faults": FaultModel,
    "procedures": Procedure,
    "facts": Fact,
    "maintenance": Maintenance,
    "parts": Part,
    "refusals": Refusal,
    "wiring": Wire,
    "settings": Setting,
    "messages": SafetyMessage,
    "hazards": HazardWords,
}
"""The folder of a file, or else its stem, -> what its list holds."""

SINGLE: Mapping[str, type] = {"machine": Machine, "energy": EnergyRules, "lexicon": Lexicon}
"""Files that hold one thing instead of a list."""

FILLED_IN = frozenset({"pack", "place", "figures", "limits"})

T = TypeVar("T")
_adapters: dict[type, TypeAdapter[Any]] = {}


def adapter(kind: type) -> TypeAdapter[Any]:
    """The check of one type, built once."""
    if kind not in _adapters:
        _adapters[kind] = TypeAdapter(kind)
    return _adapters[kind]


def parse_one(kind: type[T], data: Any, where: Location, document: Document, filled: Mapping[str, str]) -> T | None:
    """One authored thing, or None with its faults noted in the document."""
    if not isinstance(data, dict):
        document.fault(where, "should be a mapping of keys", "see knowledge/README.md")
        return None
    for key in FILLED_IN & data.keys():
        document.fault((*where, key), f"the key `{key}` is filled in by the reader", "remove it")
    known: set[str] = set(getattr(kind, "__dataclass_fields__", {}))
    extra = {key: text for key, text in filled.items() if key in known}
    try:
        result: T = adapter(kind).validate_python({**data, **extra})
    except ValidationError as error:
        for item in error.errors():
            _note(kind, item, where, document)
        return None
    return result


def parse_values(data: Any, document: Document) -> dict[str, Value]:
    """The `values:` of a table file."""
    if not isinstance(data, dict) or set(data) != {"values"}:
        document.fault((), "should hold the one key `values`", "see knowledge/README.md")
        return {}
    parsed: dict[str, Value] = {}
    for name, item in (data["values"] or {}).items():
        value = parse_one(Value, item, ("values", name), document, {})
        if value is not None:
            parsed[name] = value
    return parsed


def _note(kind: type, item: Any, where: Location, document: Document) -> None:
    inner: Location = tuple(item["loc"])
    place = (*where, *inner)
    key = str(inner[-1]) if inner else ""
    match item["type"]:
        case "unexpected_keyword_argument":
            near = difflib.get_close_matches(key, _fields_near(kind, inner), n=1)
            hint = f"did you mean `{near[0]}`?" if near else "see knowledge/README.md for the keys of this kind"
            document.fault(place, f"unknown key `{key}`", hint)
        case "missing":
            document.fault(place[:-1], f"the key `{key}` is missing", "see knowledge/README.md")
        case _:
            path = ".".join(str(part) for part in inner)
            document.fault(place, f"`{path}`: {item['msg']} (found {item['input']!r:.60})", "")


def _fields_near(kind: type, inner: Location) -> list[str]:
    """The keys valid where an unknown one stands; for nested things all keys of the schema serve as candidates."""
    if len(inner) == 1:
        return sorted(set(getattr(kind, "__dataclass_fields__", {})) - FILLED_IN)
    from assistant.domain import entries, safety, terms

    nested = {
        name
        for module in (entries, safety, terms)
        for cls in vars(module).values()
        if isinstance(cls, type)
        for name in getattr(cls, "__dataclass_fields__", {})
    }
    return sorted(nested - FILLED_IN)
