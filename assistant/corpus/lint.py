"""Everything read -> the faults an author can mend: names that do not exist, sentences out of bounds, missing isolation."""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterable, Iterator
from typing import Any

from assistant.corpus.draftbook import Draftbook, own_values
from assistant.corpus.fault_lint import lint_fault_model
from assistant.corpus.figures import LIMIT_WORD, find_value, format_value, references
from assistant.corpus.isolation_lint import lint_isolation
from assistant.corpus.prose import (
    CODES_NAMED,
    DESIGNATION,
    SIGNAL_NAME,
    TERMINAL,
    WIRE,
    Placed,
    faults_of_sentence,
    sentences_of,
)
from assistant.corpus.table_lint import lint_controllers, lint_tables
from assistant.corpus.telling_lint import lint_telling
from assistant.domain.entries import (
    Authored,
    Code,
    Component,
    FaultModel,
    Part,
    Procedure,
    Refusal,
    Signal,
)
from assistant.domain.knowledge import Wire
from assistant.domain.safety import HazardWords, SafetyMessage
from assistant.domain.tables import Setting
from assistant.domain.terms import Energy, Hazard, Kind
from assistant.errors import Fault

MIN_PHRASINGS = 4
COMPARISON = "(?:than|above|below|over|under|beyond|outside|exceeds)"
"""Words after which "at most" or "at least" does not read."""
UNASKED = (Kind.SIGNAL, Kind.PART, Kind.SETTING)
"""Kinds that are found through what they belong to, and need no phrasings of their own."""
MIN_WISHES = 12
GUARDED = frozenset(
    {Hazard.ELECTRIC_SHOCK, Hazard.STORED_ENERGY, Hazard.ENTANGLEMENT, Hazard.CRUSHING, Hazard.FALLING_LOAD}
)
"""Hazards for which isolated work must begin with isolation."""

Where = tuple[str | int, ...]


def lint(book: Draftbook) -> list[Fault]:
    """All faults of the content, in file order."""
    names = _Names(book)
    faults: list[Fault] = []
    for item in book.items:
        if isinstance(item, (Wire, HazardWords)):
            continue
        faults += [_fault(book, item, where, message, hint) for where, message, hint in _faults_of(book, names, item)]
    faults += lint_isolation(book, names.designations, names.terminals)
    for place, message, hint in (*_doubles(book), *_coverage(book), *lint_tables(book)):
        item, where = place
        faults.append(_fault(book, item, where, message, hint))
    return sorted([*faults, *lint_controllers(book)])


class _Names:
    """Everything that can be named, by pack."""

    def __init__(self, book: Draftbook) -> None:
        entries = [item for item in book.items if isinstance(item, (Authored, Part)) and not isinstance(item, Setting)]
        self.ids = {item.full_id for item in entries}
        self.designations = {(c.pack, c.id) for c in book.of(Component)}
        self.codes = {(c.pack, c.id) for c in book.of(Code)}
        self.signals = {(s.pack, s.id) for s in book.of(Signal)}
        wires = book.of(Wire)
        signals = book.of(Signal)
        self.checks = {f"{f.full_id}#{c.id}": c for f in book.of(FaultModel) for c in f.checks if not c.same_as}
        self.terminals = {(w.pack, w.terminal) for w in wires} | {(s.pack, s.terminal) for s in signals}
        self.wires = {(w.pack, w.wire) for w in wires} | {(s.pack, s.wire) for s in signals}

    def near(self, wanted: str) -> str:
        """The existing id most like the wanted one, as a hint."""
        near = difflib.get_close_matches(wanted, [str(i) for i in self.ids], n=1, cutoff=0.5)
        return f"the nearest is {near[0]}" if near else "no id is like it"


def _fault(book: Draftbook, item: Any, where: Where, message: str, hint: str) -> Fault:
    file, index = book.places[id(item)]
    document = book.documents[file]
    name = getattr(item, "id", "") or f"wire {getattr(item, 'wire', '')}"
    return Fault(file=file, line=document.line((index, *where)), message=f"[{name}] {message}", hint=hint)


def _faults_of(book: Draftbook, names: _Names, item: Any) -> Iterator[tuple[Where, str, str]]:
    pack = getattr(item, "pack", "")
    tables = book.tables(pack, own_values(item))
    for placed in sentences_of(item):
        for message, hint in faults_of_sentence(placed):
            yield placed.where, message, hint
        yield from _references(placed, tables)
        if pack:
            yield from _named(placed, pack, names)
    if isinstance(item, Authored):
        yield from _entry(item, names)
    if isinstance(item, Component):
        yield from _listed(item.feeds + item.fed_by, ("feeds",), pack, names)
        yield from _known_values(item, tables)
    if isinstance(item, (Code, FaultModel)):
        yield from _listed(item.components, ("components",), pack, names)
    if isinstance(item, Part):
        yield from _listed(item.fits, ("fits",), pack, names)
    if isinstance(item, Procedure):
        yield from _procedure(item)
    if isinstance(item, FaultModel):
        yield from _fault_model(item, names, tables)
    if isinstance(item, Refusal):
        yield from _refusal(item)


def _references(placed: Placed, tables: Any) -> Iterator[tuple[Where, str, str]]:
    for name in references(placed.text):
        value = find_value(name, tables)
        if value is None:
            known = sorted({key for table in tables for key in table})
            near = difflib.get_close_matches(name, known, n=1)
            yield (
                placed.where,
                f"`{{{name}}}` is no value here",
                f"did you mean {near[0]}?" if near else "add it to `values:`",
            )
            continue
        limit = LIMIT_WORD.match(format_value(value))
        if limit and re.search(rf"\b{COMPARISON} {{{name}}}", placed.text):
            yield (
                placed.where,
                f"a comparison before `{{{name}}}` reads `... {format_value(value)}`",
                f"write `{{{name}!}}`",
            )
        for lead in ("at most", "at least", "about"):
            if format_value(value).startswith(lead) and re.search(rf"\b{lead} {{{name}}}", placed.text):
                yield placed.where, f"`{lead} {{{name}}}` reads `{lead} {format_value(value)}`", f"leave `{lead}` out"


def _named(placed: Placed, pack: str, names: _Names) -> Iterator[tuple[Where, str, str]]:
    text = placed.text
    for match in DESIGNATION.finditer(text):
        if (pack, match.group(1)) not in names.designations and not text[match.end() :].startswith(":"):
            yield placed.where, f"no component `{match.group(1)}` in {pack}", "name one that exists, or write its entry"
    for match in CODES_NAMED.finditer(text):
        for code in re.findall(r"\d{3}", match.group(1)):
            if (pack, code) not in names.codes:
                yield placed.where, f"no code {code} in {pack}", "name one that exists"
    for match in TERMINAL.finditer(text):
        if (pack, match.group(1)) not in names.terminals:
            yield (
                placed.where,
                f"no terminal `{match.group(1)}` in the wiring table",
                "see wiring.yaml and signals.yaml",
            )
    for match in WIRE.finditer(text):
        for wire in re.findall(r"\d+", match.group(1)):
            if (pack, wire) not in names.wires:
                yield placed.where, f"no wire {wire} in the wiring table", "see wiring.yaml and signals.yaml"
    for match in SIGNAL_NAME.finditer(text):
        if (pack, match.group(1)) not in names.signals and names.signals:
            yield placed.where, f"no input or output `{match.group(1)}` in {pack}", "see signals.yaml"


def _entry(item: Authored, names: _Names) -> Iterator[tuple[Where, str, str]]:
    if item.kind not in UNASKED and len(item.phrasings) < MIN_PHRASINGS:
        yield (
            ("phrasings",),
            f"{len(item.phrasings)} phrasings, at least {MIN_PHRASINGS}",
            "write what people say when they need it",
        )
    if not item.source.strip():
        yield ("source",), "no source", "a standard with clause, `common practice, no source`, or `scenario`"
    if item.pack == "trade" and item.source == "scenario":
        yield (
            ("source",),
            "`scenario` is no source for a fact of the trade",
            "name a standard or `common practice, no source`",
        )
    for i, wanted in enumerate(item.see):
        if wanted not in names.ids:
            yield ("see", i), f"no entry `{wanted}`", names.near(wanted)
    for name, value in item.values.items():
        if value.value is None and value.min is None and value.max is None and not value.text:
            yield ("values", name), f"the value `{name}` is empty", "give value, min, max or text"


def _known_values(item: Component, tables: Any) -> Iterator[tuple[Where, str, str]]:
    for quantity, name in item.knows.items():
        if find_value(name, tables) is None:
            yield (
                ("knows", quantity),
                f"`{name}` is no value here",
                "name a value of the machine, or write it in `values:`",
            )


def _listed(wanted: Iterable[str], where: Where, pack: str, names: _Names) -> Iterator[tuple[Where, str, str]]:
    for name in wanted:
        if (pack, name) not in names.designations:
            yield where, f"no component `{name}` in {pack}", "name one that exists"


def _procedure(item: Procedure) -> Iterator[tuple[Where, str, str]]:
    order = [Energy.UNKNOWN, Energy.RUNNING, Energy.STOPPED, Energy.ISOLATED]
    deepest = max((step.energy or item.energy for step in item.steps), key=order.index, default=item.energy)
    if order.index(deepest) > order.index(item.energy):
        yield ("energy",), f"a step needs `{deepest}`, the procedure says `{item.energy}`", f"write energy: {deepest}"
    opening = " ".join(step.do.lower() for step in item.steps[:3]) + " ".join(item.see)
    if item.energy is Energy.ISOLATED and GUARDED & set(item.hazards) and "isolat" not in opening:
        yield (
            ("steps",),
            "isolated work that does not begin with isolation",
            "make the first step refer to isolate-and-prove-dead",
        )
    if not item.prove:
        yield ("prove",), "nothing proves the work", "write how it is restored and proved"


def _fault_model(item: FaultModel, names: _Names, tables: Any) -> Iterator[tuple[Where, str, str]]:
    for i, cause in enumerate(item.causes):
        if cause.see and cause.see not in names.ids:
            yield ("causes", i, "see"), f"no entry `{cause.see}`", names.near(cause.see)
    found = list(lint_fault_model(item, names.checks, names.ids, names.codes, tables))
    yield from found
    if not found:
        yield from lint_telling(item)


def _refusal(item: Refusal) -> Iterator[tuple[Where, str, str]]:
    for where, said in (("phrasings", item.phrasings), ("benign", item.benign)):
        if len(said) < MIN_WISHES:
            yield (where,), f"{len(said)} sentences, at least {MIN_WISHES}", "the more ways people ask, the safer"
    for i, pattern in enumerate(item.patterns):
        if len(pattern) < 2:
            yield ("patterns", i), "a pattern of one group", "give an act and what it is done to"


def normal(text: str) -> str:
    """A phrasing without case, punctuation and double spaces."""
    return " ".join(re.sub(r"[^\w\s]", " ", text.lower()).split())


def _doubles(book: Draftbook) -> Iterator[tuple[tuple[Any, Where], str, str]]:
    seen_ids: dict[str, Any] = {}
    seen: dict[tuple[str, str], Authored] = {}
    severities: dict[int, SafetyMessage] = {}
    for item in book.items:
        if isinstance(item, (Authored, Part)):
            if item.full_id in seen_ids:
                yield (
                    (item, ("id",)),
                    f"`{item.full_id}` is written twice",
                    f"the other is at {seen_ids[item.full_id].place}",
                )
            seen_ids[item.full_id] = item
        if isinstance(item, Authored):
            for i, text in enumerate(item.phrasings):
                other = seen.setdefault((item.pack, normal(text)), item)
                if other is not item:
                    yield (
                        (item, ("phrasings", i)),
                        f"`{text}` is also a phrasing of {other.full_id}",
                        "make one of them particular",
                    )
        if isinstance(item, SafetyMessage):
            other_message = severities.setdefault(item.severity, item)
            if other_message is not item:
                yield (
                    (item, ("severity",)),
                    f"severity {item.severity} is also {other_message.id}'s",
                    "severities are a total order",
                )


def _coverage(book: Draftbook) -> Iterator[tuple[tuple[Any, Where], str, str]]:
    messages: list[SafetyMessage] = book.of(SafetyMessage)
    general = {m.hazard for m in messages if m.general}
    worded = {h.id for h in book.of(HazardWords)}
    if not messages:
        return
    for hazard in Hazard:
        if hazard not in general:
            yield (
                (messages[0], ()),
                f"no general safety message for `{hazard}`",
                "each hazard has one that stands alone",
            )
        if worded and hazard not in worded:
            yield (messages[0], ()), f"no words for `{hazard}` in hazards.yaml", "name the words that raise it"
