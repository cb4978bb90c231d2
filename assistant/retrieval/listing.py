"""Knowledge -> the rows of a list that is asked for by its name: wires, terminals, io, parts, settings, components, codes."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum

from assistant.corpus.figures import format_value
from assistant.domain.knowledge import KnowledgeBase
from assistant.domain.tables import Conductor
from assistant.retrieval.rows import Rows, number_order

_WORD = re.compile(r"\w+")


class Listed(StrEnum):
    """What can be listed."""

    WIRES = "wires"
    TERMINALS = "terminals"
    IO = "io"
    PARTS = "parts"
    SETTINGS = "settings"
    COMPONENTS = "components"
    CODES = "codes"


HEADINGS: dict[Listed, tuple[str, ...]] = {
    Listed.WIRES: ("wire", "terminal", "from", "to", "carries"),
    Listed.TERMINALS: ("terminal", "wire", "from", "to", "carries"),
    Listed.IO: ("address", "component", "terminal", "wire", "on", "off"),
    Listed.PARTS: ("part", "what it is", "fits"),
    Listed.SETTINGS: ("setting", "as delivered", "may be set to", "where", "what it does"),
    Listed.COMPONENTS: ("component", "name", "where"),
    Listed.CODES: ("code", "title", "components"),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class ListRow:
    """One row: the machine's pack, and a cell for each heading."""

    pack: str
    cells: tuple[str, ...]


def listed(knowledge: KnowledgeBase, what: Listed, scope: str | None, words: Sequence[str] = ()) -> tuple[ListRow, ...]:
    """The rows of the machine in scope, or of all, that hold every word."""
    rows = (row for row in _rows(knowledge, what) if scope in (None, row.pack))
    return tuple(row for row in rows if all(_holds(row.cells, word) for word in words))


def _holds(cells: Iterable[str], word: str) -> bool:
    """Whether a word of the cells begins so; a figure is only itself, so that 5 does not find 51."""
    wanted = _WORD.findall(word.lower())
    have = [part for cell in cells for part in _WORD.findall(cell.lower())]
    return all(any(part == w if w.isdecimal() else part.startswith(w) for part in have) for w in wanted)


def _rows(knowledge: KnowledgeBase, what: Listed) -> tuple[ListRow, ...]:
    tables = Rows(knowledge)
    match what:
        case Listed.WIRES:
            return tuple(_wire(row) for row in tables.conductors)
        case Listed.TERMINALS:
            ordered = sorted(tables.conductors, key=lambda row: (row.pack, *_terminal_order(row.terminal)))
            return tuple(ListRow(pack=r.pack, cells=(r.terminal, r.wire, r.origin, r.to, r.carries)) for r in ordered)
        case Listed.IO:
            signals = sorted(knowledge.signals, key=lambda s: (s.pack, s.id[0], number_order(s.id[1:])))
            return tuple(
                ListRow(
                    pack=s.pack,
                    cells=(s.id, s.component, s.terminal, s.wire, " ".join(s.on_means), " ".join(s.off_means)),
                )
                for s in signals
            )
        case Listed.PARTS:
            return tuple(
                ListRow(pack=p.pack, cells=(p.title, format_value(p.spec), ", ".join(p.fits))) for p in knowledge.parts
            )
        case Listed.SETTINGS:
            return tuple(
                ListRow(pack=s.pack, cells=(s.title, s.delivered, s.span, " ".join(s.location), " ".join(s.what)))
                for s in knowledge.settings
            )
        case Listed.COMPONENTS:
            return tuple(ListRow(pack=c.pack, cells=(c.id, c.name, " ".join(c.location))) for c in knowledge.components)
        case Listed.CODES:
            return tuple(ListRow(pack=c.pack, cells=(c.id, c.title, ", ".join(c.components))) for c in knowledge.codes)


def _wire(row: Conductor) -> ListRow:
    marks = ", ".join(text for text in (row.colour, row.section) if text)
    carries = f"{row.carries} ({marks})" if marks else row.carries
    return ListRow(pack=row.pack, cells=(row.wire, row.terminal, row.origin, row.to, carries))


def _terminal_order(terminal: str) -> tuple[str, tuple[int, str]]:
    rail, _, number = terminal.partition(":")
    return (rail, number_order(number))
