"""A folder of YAML -> KnowledgeBase, strict: every fault of every file in one run, nothing half-loaded."""

from __future__ import annotations

import dataclasses
from pathlib import Path
from typing import Any

from assistant.corpus.digest import knowledge_digest
from assistant.corpus.draftbook import Draftbook, own_values, read_draftbook
from assistant.corpus.drawing import FILE as DRAWING
from assistant.corpus.drawing import note_faults
from assistant.corpus.figures import find_value, format_value, references, resolve
from assistant.corpus.limits import with_limits
from assistant.corpus.lint import lint
from assistant.corpus.prose import sentences_of
from assistant.corpus.shared_checks import filled_in
from assistant.domain.entries import (
    Authored,
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
from assistant.domain.knowledge import KnowledgeBase, Wire
from assistant.domain.safety import EnergyRules, HazardWords, SafetyMessage
from assistant.domain.tables import Setting
from assistant.errors import Fault, KnowledgeError


def read_knowledge(root: Path) -> KnowledgeBase:
    """The knowledge of a folder.

    Raises:
        KnowledgeError: with every fault of every file, lint included.

    """
    if not root.is_dir():
        raise KnowledgeError([Fault(file=str(root), line=1, message="no such folder")])
    book = read_draftbook(root)
    check_drawings(book)
    faults = [*book.faults(), *lint(book)]
    if faults or book.energy is None:
        raise KnowledgeError(faults or [Fault(file="safety/energy.yaml", line=1, message="is missing")])
    return assemble(book, book.energy, knowledge_digest(root))


def check_drawings(book: Draftbook) -> None:
    """Hold each drawing against the components of its pack; a pack without a drawing is sound."""
    for name, document in book.documents.items():
        parts = name.split("/")
        if parts[-1] == DRAWING and len(parts) == 3 and not document.faults:
            own = [c for c in book.of(Component) if c.pack == parts[1]]
            note_faults(document, parts[1], {c.id: " ".join(str(s) for s in c.location) for c in own})


def assemble(book: Draftbook, energy: EnergyRules, digest: str) -> KnowledgeBase:
    """Typed, resolved and ordered."""

    def entries(kind: type) -> Any:
        found = [_finished(book, item) for item in book.of(kind)]
        return tuple(sorted(found, key=lambda item: item.full_id))

    return KnowledgeBase(
        digest=digest,
        machines=tuple(book.machines[pack] for pack in sorted(book.machines)),
        components=entries(Component),
        signals=entries(Signal),
        codes=entries(Code),
        faults=filled_in(entries(FaultModel)),
        procedures=entries(Procedure),
        facts=entries(Fact),
        maintenance=entries(Maintenance),
        parts=entries(Part),
        refusals=entries(Refusal),
        messages=tuple(
            sorted((resolve(m, book.tables("", {})) for m in book.of(SafetyMessage)), key=lambda m: m.severity)
        ),
        hazard_words=tuple(sorted(book.of(HazardWords), key=lambda h: h.id)),
        energy=dataclasses.replace(
            resolve(energy, book.tables("", {})),
            of_machine={p: resolve(m.isolation, book.tables(p, {})) for p, m in sorted(book.machines.items())},
        ),
        wires=tuple(sorted(book.of(Wire), key=lambda w: (w.pack, w.terminal))),
        settings=entries(Setting),
        lexicon=book.lexicon,
    )


def _finished(book: Draftbook, item: Any) -> Any:
    """The entry with its references printed, and each named value that it refers to listed once."""
    tables = book.tables(item.pack, own_values(item))
    resolved = resolve(item, tables)
    if not isinstance(item, Authored):
        return resolved
    names = dict.fromkeys(name for placed in sentences_of(item) for name in references(placed.text))
    values = ((name, find_value(name, tables)) for name in names)
    resolved = with_limits(item, resolved, tables)
    figures = tuple(f"{name.replace('_', ' ')}: {format_value(value)}" for name, value in values if value is not None)
    return dataclasses.replace(resolved, figures=figures)
