"""Findings as a table: a title, one sentence that says what it shows, and rows of text."""

from __future__ import annotations

import dataclasses
import textwrap
from collections.abc import Sequence
from dataclasses import dataclass

WIDTH = 140
"""Characters of a printed line."""
NARROWEST = 20
"""Characters that a column of words has in any case."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """`note` explains the table in one sentence; every row is as long as the header."""

    title: str
    note: str
    header: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]

    def __post_init__(self) -> None:
        """Raise ValueError where a row does not fit the header."""
        for row in self.rows:
            if len(row) != len(self.header):
                raise ValueError(f"{self.title}: {len(row)} cells under {len(self.header)} headings: {row}")

    def head(self, count: int) -> Table:
        """The first rows, and the number left off in the note; no count below 1 leaves anything off."""
        left = len(self.rows) - count
        if count < 1 or left <= 0:
            return self
        return dataclasses.replace(self, note=f"{self.note} ({left} more rows left off.)", rows=self.rows[:count])


def as_lines(table: Table) -> list[str]:
    """Aligned text: numbers to the right, words to the left, wide columns of words wrapped under themselves."""
    note = textwrap.wrap(table.note, WIDTH, initial_indent="  ", subsequent_indent="  ")
    lines = [f"{table.title} ({len(table.rows)})", *note]
    if not table.rows:
        return [*lines, "  none"]
    columns = list(zip(table.header, *table.rows, strict=True))
    numbers = [all(_is_number(cell) for cell in column[1:]) for column in columns]
    widths = _fitted([max(len(cell) for cell in column) for column in columns], numbers)
    for row in (table.header, *table.rows):
        lines += _row(row, widths, numbers)
    return lines


def _fitted(widths: list[int], numbers: Sequence[bool]) -> list[int]:
    """The widths, the widest columns of words narrowed until a line fits."""
    widths = list(widths)
    words = [i for i, number in enumerate(numbers) if not number]
    while sum(widths) + 2 * len(widths) > WIDTH and words:
        widest = max(words, key=lambda i: (widths[i], i))
        if widths[widest] <= NARROWEST:
            break
        widths[widest] -= 1
    return widths


def _row(row: Sequence[str], widths: Sequence[int], numbers: Sequence[bool]) -> list[str]:
    wrapped = [textwrap.wrap(cell, width) or [""] for cell, width in zip(row, widths, strict=True)]
    lines = []
    for i in range(max(len(parts) for parts in wrapped)):
        cells = [parts[i] if i < len(parts) else "" for parts in wrapped]
        placed = [c.rjust(w) if n else c.ljust(w) for c, w, n in zip(cells, widths, numbers, strict=True)]
        lines.append(f"  {'  '.join(placed)}".rstrip())
    return lines


def _is_number(cell: str) -> bool:
    return bool(cell) and cell.lstrip("+-").replace(".", "", 1).replace("%", "", 1).isdecimal()
