"""Wires, inputs, outputs and settings -> the faults an author can mend: ends that do not exist, numbers written twice."""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterator
from typing import Any

from assistant.corpus.draftbook import Draftbook, own_values
from assistant.corpus.figures import find_value, references
from assistant.corpus.prose import DESIGNATION, stray_figures
from assistant.domain.entries import Component, Signal
from assistant.domain.knowledge import Wire
from assistant.domain.tables import Setting
from assistant.errors import Fault

TERMINAL_SHAPE = re.compile(r"^XD\d{1,2}:(?:\d{1,3}|PE)$")
DIRECTIONS = ("input", "output")
Where = tuple[str | int, ...]
Found = Iterator[tuple[tuple[Any, Where], str, str]]


def lint_tables(book: Draftbook) -> Found:
    """All faults of the tables: (item and key, message, hint)."""
    components = {(c.pack, c.id) for c in book.of(Component)}
    yield from _wires(book, components)
    for signal in book.of(Signal):
        if (signal.pack, signal.component) not in components:
            yield (
                (signal, ("component",)),
                f"no component `{signal.component}` in {signal.pack}",
                "name one that exists",
            )
        if signal.direction not in DIRECTIONS:
            yield (
                (signal, ("direction",)),
                f"the direction `{signal.direction}`",
                f"write one of: {', '.join(DIRECTIONS)}",
            )
    yield from _settings(book, components)


def lint_controllers(book: Draftbook) -> list[Fault]:
    """The controller that a machine names has to be one of its components."""
    components = {(c.pack, c.id) for c in book.of(Component)}
    found = []
    for pack, machine in book.machines.items():
        if machine.controller and (pack, machine.controller) not in components:
            name = f"machines/{pack}/machine.yaml"
            line = book.documents[name].line(("controller",)) if name in book.documents else 1
            message = f"no component `{machine.controller}` in {pack}"
            found.append(Fault(file=name, line=line, message=message, hint="name one that exists"))
    return found


def _wires(book: Draftbook, components: set[tuple[str, str]]) -> Found:
    seen: set[tuple[str, str]] = set()
    for item in (*book.of(Wire), *book.of(Signal)):
        if (item.pack, item.wire) in seen:
            yield (item, ("wire",)), f"wire {item.wire} is written twice in {item.pack}", "a number names one wire"
        seen.add((item.pack, item.wire))
        if not TERMINAL_SHAPE.match(item.terminal):
            yield (item, ("terminal",)), f"`{item.terminal}` is no terminal", "write the rail, a colon and its number"
    for wire in book.of(Wire):
        for key in ("origin", "to"):
            for name in DESIGNATION.findall(getattr(wire, key)):
                if (wire.pack, name) not in components:
                    yield (wire, (key,)), f"no component `{name}` in {wire.pack}", "name one that exists"


def _settings(book: Draftbook, components: set[tuple[str, str]]) -> Found:
    said: dict[tuple[str, str], Setting] = {}
    for item in book.of(Setting):
        if item.holder and (item.pack, item.holder) not in components:
            yield (item, ("holder",)), f"no component `{item.holder}` in {item.pack}", "name one that exists"
        if not item.aliases:
            yield (item, ("aliases",)), "no alias", "write what people call it"
        for alias in item.aliases:
            other = said.setdefault((item.pack, alias.lower()), item)
            if other is not item:
                yield (item, ("aliases",)), f"`{alias}` also names {other.full_id}", "a name means one setting"
        tables = book.tables(item.pack, own_values(item))
        for key in ("delivered", "span"):
            text = getattr(item, key)
            for figure in stray_figures(text):
                yield (
                    (item, (key,)),
                    f"the figure `{figure}` is not a reference",
                    "write it in `values:` and refer to it",
                )
            for name in references(text):
                if find_value(name, tables) is None:
                    near = difflib.get_close_matches(name, sorted({k for t in tables for k in t}), n=1)
                    hint = f"did you mean {near[0]}?" if near else "add it to `values:`"
                    yield (item, (key,)), f"`{{{name}}}` is no value here", hint
