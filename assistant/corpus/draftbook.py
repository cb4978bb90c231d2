"""A folder of YAML -> everything read, its shape checked and its references unresolved; what the lint looks at."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from assistant.corpus.digest import knowledge_files
from assistant.corpus.schema import KINDS, SINGLE, parse_one, parse_values
from assistant.corpus.yaml_lines import Document, read_yaml
from assistant.domain.entries import (
    Authored,
)
from assistant.domain.knowledge import Lexicon, Machine
from assistant.domain.safety import EnergyRules
from assistant.domain.terms import Value
from assistant.errors import Fault

Tables = tuple[Mapping[str, Value], ...]


@dataclass(slots=True)
class Draftbook:
    """All that was read, references still unresolved; what the lint looks at."""

    root: Path
    items: list[Any] = field(default_factory=list)
    machines: dict[str, Machine] = field(default_factory=dict)
    energy: EnergyRules | None = None
    lexicon: Lexicon = Lexicon(groups=())
    trade_values: dict[str, Value] = field(default_factory=dict)
    documents: dict[str, Document] = field(default_factory=dict)
    places: dict[int, tuple[str, int]] = field(default_factory=dict)

    def of(self, kind: type) -> list[Any]:
        """Everything read of that type, in file order."""
        return [item for item in self.items if type(item) is kind]

    def tables(self, pack: str, own: Mapping[str, Value]) -> Tables:
        """Where a reference is looked up: the entry, its pack, the trade, the energy rules."""
        machine = self.machines.get(pack)
        energy = self.energy.values if self.energy else {}
        return (own, machine.values if machine else {}, self.trade_values, energy)

    def faults(self) -> list[Fault]:
        """Every fault noted so far."""
        return [fault for document in self.documents.values() for fault in document.faults]


def read_draftbook(root: Path) -> Draftbook:
    """Read and check the shape of every file; faults stay in the documents."""
    book = Draftbook(root=root)
    for path in knowledge_files(root):
        name = path.relative_to(root).as_posix()
        document = read_yaml(path, name)
        book.documents[name] = document
        if not document.faults and document.data is not None:
            _take(book, name, document)
    return book


def _pack_of(name: str) -> str:
    parts = name.split("/")
    return parts[1] if parts[0] == "machines" and len(parts) > 2 else parts[0]


def _take(book: Draftbook, name: str, document: Document) -> None:
    pack, parts = _pack_of(name), name.split("/")
    stem = parts[-1].removesuffix(".yaml")
    if parts[-1] == "drawing.yaml":
        return  # the lint reads it beside the components
    if stem == "values":
        book.trade_values.update(parse_values(document.data, document))
        return
    if stem in SINGLE:
        item = parse_one(SINGLE[stem], document.data, (), document, {"pack": pack})
        if isinstance(item, Machine):
            book.machines[pack] = item
        elif isinstance(item, EnergyRules):
            book.energy = item
        elif isinstance(item, Lexicon):
            book.lexicon = item
        return
    kind = KINDS.get(parts[-2] if len(parts) > 1 else "") or KINDS.get(stem)
    if kind is None:
        document.fault((), f"neither `{stem}` nor its folder names a kind", f"one of: {', '.join(sorted(KINDS))}")
        return
    if not isinstance(document.data, list):
        document.fault((), "should be a list of entries", "start each entry with `- id:`")
        return
    for i, data in enumerate(document.data):
        line = document.line((i,))
        item = parse_one(kind, data, (i,), document, {"pack": pack, "place": f"{name}:{line}"})
        if item is not None:
            book.items.append(item)
            book.places[id(item)] = (name, i)


def own_values(item: Any) -> Mapping[str, Value]:
    """The values that an entry brings: its own table, and its rating, interval or specification."""
    own: dict[str, Value] = dict(item.values) if isinstance(item, Authored) else {}
    for name in ("rating", "interval", "spec"):
        value = getattr(item, name, None)
        if isinstance(value, Value):
            own[name] = value
    return own
