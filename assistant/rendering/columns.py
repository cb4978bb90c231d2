"""Rows of cells -> a table as lines of a given width: wide columns give way, long cells are wrapped, nothing is cut off."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence

GAP = "  "
LEAST = 6
"""A column is not made narrower than its longest word, nor than this; a longer word is broken only if nothing else fits."""


def table_lines(headings: Sequence[str], rows: Sequence[Sequence[str]], width: int) -> tuple[str, ...]:
    """The headings, a rule and the rows, every line at most `width` characters wide."""
    columns = list(zip(headings, *rows, strict=True))
    widths = _widths(columns, width - len(GAP) * (len(columns) - 1))
    lines = [*_row(headings, widths), GAP.join("-" * w for w in widths)]
    for row in rows:
        lines += _row(row, widths)
    return tuple(line.rstrip() for line in lines)


def _widths(columns: Sequence[Sequence[str]], room: int) -> list[int]:
    widths = [max(len(cell) for cell in column) for column in columns]
    least = [max((len(word) for cell in column for word in cell.split()), default=1) for column in columns]
    for floor in (least, [min(LEAST, w) for w in least], [1] * len(widths)):
        while sum(widths) > room:
            spare = [(w - f, w, -i) for i, (w, f) in enumerate(zip(widths, floor, strict=True)) if w > f]
            if not spare:
                break
            widest = max((w, i) for _, w, i in spare)
            widths[-widest[1]] -= 1
    return widths


def _row(cells: Sequence[str], widths: Sequence[int]) -> list[str]:
    wrapped = [textwrap.wrap(cell, w) or [""] for cell, w in zip(cells, widths, strict=True)]
    height = max(len(lines) for lines in wrapped)
    filled = [lines + [""] * (height - len(lines)) for lines in wrapped]
    return [
        GAP.join(part.ljust(w) for part, w in zip(parts, widths, strict=True)) for parts in zip(*filled, strict=True)
    ]
