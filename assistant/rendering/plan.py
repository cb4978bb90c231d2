"""A view with one designation marked: as text of at most 80 columns, and as an SVG picture."""

from __future__ import annotations

from html import escape
from textwrap import wrap

from assistant.domain.drawing import Drawing, Placed, View

COLUMNS = 76
_MARGIN = 60
_PIXELS = 1000
_LETTERS = 88
"""So many letters of the foot fit the width at its size, with room for a wide font."""


def _caption(drawing: Drawing, placed: Placed) -> str:
    near = " and ".join(p.designation for p in drawing.neighbours(placed))
    rail = f", {placed.rail} rail" if placed.rail else ""
    return f"{placed.designation}{rail}" + (f"; next to it {near}." if near else ".")


def text_plan(drawing: Drawing, placed: Placed) -> str:
    """The view in letters; the designation stands in >angles<, and an empty stretch is one line, for a small screen."""
    view = drawing.view(placed.view)
    rows = max(8, round(COLUMNS * view.high / view.wide * 0.45))
    grid = [[" "] * COLUMNS for _ in range(rows)]
    for item in drawing.seen(view.id):
        label = f">{item.designation}<" if item is placed else item.designation
        x, y = item.box.middle
        left = min(max(round(x / view.wide * COLUMNS - len(label) / 2), 0), COLUMNS - len(label))
        row = _free(grid, min(int(y / view.high * rows), rows - 1), left, len(label))
        grid[row][left : left + len(label)] = list(label)
    edge = "+" + "-" * COLUMNS + "+"
    told = ["".join(row) for row in grid]
    kept = [row for i, row in enumerate(told) if row.strip() or (i and told[i - 1].strip())]
    lines = [view.title, edge, *(f"|{row}|" for row in kept), edge]
    below = (_caption(drawing, placed), *view.notes)
    return "\n".join([*lines, *(line for text in below for line in wrap(text, COLUMNS + 2))])


def _free(grid: list[list[str]], row: int, left: int, length: int) -> int:
    """The nearest row where the label touches no other."""
    wanted = slice(max(left - 1, 0), left + length + 1)
    order = sorted(range(len(grid)), key=lambda r: (abs(r - row), r))
    return next((r for r in order if not "".join(grid[r][wanted]).strip()), row)


def svg_plan(drawing: Drawing, placed: Placed) -> str:
    """The view as a picture; the mark is a thick frame, a hatch, an arrow and words, not colour alone."""
    view = drawing.view(placed.view)
    scale = _PIXELS / view.wide
    high = view.high * scale
    foot = high + 2 * _MARGIN
    words = "thick hatched frame at the dashed line: " + _caption(drawing, placed)
    below = [(54, line) for line in wrap(words, _LETTERS - 5)]
    below += [(0, line) for note in view.notes for line in wrap("! " + note, _LETTERS)]
    whole_high = foot + 20 + 34 * len(below)
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {_PIXELS + 2 * _MARGIN} {whole_high:.0f}" '
        'font-family="sans-serif" fill="#111">',
        '<defs><pattern id="hatch" width="8" height="8" patternUnits="userSpaceOnUse" patternTransform="rotate(45)">'
        '<rect width="8" height="8" fill="#fff3b0"/><line y2="8" stroke="#b58900" stroke-width="3"/></pattern></defs>',
        '<rect width="100%" height="100%" fill="#fff"/>',
        _text(_MARGIN, 36, view.title, 26),
        f'<g transform="translate({_MARGIN} {_MARGIN})">',
        f'<rect width="{_PIXELS}" height="{high:.0f}" fill="#fafafa" stroke="#111" stroke-width="3"/>',
        *_shapes(view, scale),
        _leader(placed, scale),
        *(_part(item, scale, marked=item is placed) for item in drawing.seen(view.id)),
        "</g>",
        f'<rect x="{_MARGIN}" y="{foot - 22:.0f}" width="40" height="26" fill="url(#hatch)" stroke="#111" '
        'stroke-width="5"/>',
        *(_text(_MARGIN + indent, foot + 34 * i, line, 22) for i, (indent, line) in enumerate(below)),
        "</svg>",
    ]
    return "\n".join(parts) + "\n"


def _text(x: float, y: float, words: str, size: float, anchor: str = "start", weight: str = "normal") -> str:
    return (
        f'<text x="{x:.0f}" y="{y:.0f}" font-size="{size:.0f}" text-anchor="{anchor}" font-weight="{weight}">'
        f"{escape(words)}</text>"
    )


def _shapes(view: View, scale: float) -> list[str]:
    drawn = []
    for shape in view.shapes:
        x, y = shape.box.x * scale, shape.box.y * scale
        drawn.append(
            f'<rect x="{x:.0f}" y="{y:.0f}" width="{shape.box.wide * scale:.0f}" height="{shape.box.high * scale:.0f}" '
            'fill="#eee" stroke="#888" stroke-width="1.5"/>'
        )
        drawn.append(_text(x + 6, y + 18, shape.label, 16))
    return drawn


def _leader(placed: Placed, scale: float) -> str:
    x, y = (n * scale for n in placed.box.middle)
    return f'<path d="M0 {y:.0f}H{x:.0f}M{x:.0f} 0V{y:.0f}" stroke="#111" stroke-width="3" stroke-dasharray="10 7"/>'


def _part(item: Placed, scale: float, *, marked: bool) -> str:
    box = item.box
    x, y = (n * scale for n in box.middle)
    size = min(26.0, box.wide * scale / (0.72 * len(item.designation)), box.high * scale * 0.7)
    fill, stroke = ("url(#hatch)", 6) if marked else ("#fff", 2)
    frame = (
        f'<rect x="{box.x * scale:.0f}" y="{box.y * scale:.0f}" width="{box.wide * scale:.0f}" '
        f'height="{box.high * scale:.0f}" fill="{fill}" stroke="#111" stroke-width="{stroke}"/>'
    )
    return frame + _text(x, y + size * 0.36, item.designation, size, "middle", "bold" if marked else "normal")
