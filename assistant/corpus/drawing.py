"""A pack's drawing.yaml -> Drawing, and what the lint says of it: all placed, none outside, in the order that is told."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

from assistant.corpus.yaml_lines import Document, read_yaml
from assistant.domain.drawing import Box, Drawing, Placed, Shape, View

FILE = "drawing.yaml"
ORDINALS = ("first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth", "ninth")
_NTH = re.compile(rf"\b({'|'.join(ORDINALS)})\b[a-z ]* from the left", re.IGNORECASE)
_SIDE = re.compile(r"\b((?i:above|over|below|left of|right of)) (?:[a-z' -]+ )?([A-Z]{2}\d+)\b")
_BETWEEN = re.compile(r"\bbetween ([A-Z]{2}\d+) and ([A-Z]{2}\d+)\b")
_RAIL = re.compile(r"\bthe (upper|middle|lower) rail\b")


def read_drawing(root: Path, pack: str) -> Drawing | None:
    """The drawing of a pack, or nothing where none was authored; the lint has seen it before."""
    path = root / "machines" / pack / FILE
    return drawing_of(read_yaml(path, FILE), pack) if path.is_file() else None


def drawing_of(document: Document, pack: str) -> Drawing | None:
    """The typed drawing; what is wrong is noted as a fault of the document."""
    data = document.data
    if not isinstance(data, dict) or not all(isinstance(data.get(key), dict) for key in ("views", "places")):
        document.fault((), "should have the tables `views` and `places`", "see knowledge/README.md")
        return None
    views = tuple(_view(document, name, item) for name, item in data["views"].items())
    places = tuple(p for name, item in data["places"].items() if (p := _placed(document, name, item, views)))
    return Drawing(pack=pack, views=views, places=places)


def _box(document: Document, where: tuple[str | int, ...], data: Any) -> Box:
    if isinstance(data, list) and len(data) == 4 and all(isinstance(n, int | float) for n in data):
        if data[2] > 0 and data[3] > 0:
            return Box(x=data[0], y=data[1], wide=data[2], high=data[3])
    document.fault(where, "needs `at: [x, y, width, height]` in millimetres", "four numbers, the last two above zero")
    return Box(x=0, y=0, wide=1, high=1)


def _view(document: Document, name: str, data: Any) -> View:
    where = ("views", name)
    item = data if isinstance(data, dict) else {}
    size = item.get("size")
    if not (isinstance(size, list) and len(size) == 2 and all(isinstance(n, int | float) and n > 0 for n in size)):
        document.fault(where, f"view `{name}` needs `size: [width, height]` in millimetres")
        size = [1, 1]
    shapes = tuple(
        Shape(label=str(label), box=_box(document, (*where, "shapes", label), at))
        for label, at in (item.get("shapes") or {}).items()
    )
    notes = tuple(str(note) for note in item.get("notes") or ())
    return View(id=name, title=str(item.get("title") or name), wide=size[0], high=size[1], notes=notes, shapes=shapes)


def _placed(document: Document, name: str, data: Any, views: tuple[View, ...]) -> Placed | None:
    where = ("places", name)
    item = data if isinstance(data, dict) else {}
    view = next((v for v in views if v.id == item.get("view")), None)
    if view is None:
        document.fault(where, f"{name} names no view of this drawing", f"views: {', '.join(v.id for v in views)}")
        return None
    box = _box(document, where, item.get("at"))
    if box.x < 0 or box.y < 0 or box.x + box.wide > view.wide or box.y + box.high > view.high:
        document.fault(where, f"{name} lies outside the view `{view.id}`", f"it is {view.wide} by {view.high} mm")
    return Placed(designation=name, view=view.id, box=box, rail=str(item.get("rail") or ""))


def note_faults(document: Document, pack: str, told: dict[str, str]) -> None:
    """Note what is wrong in a drawing beside the pack's components and their told locations."""
    drawing = drawing_of(document, pack)
    if drawing is None:
        return
    known = {p.designation for p in drawing.places}
    for name in sorted(set(told) - known):
        document.fault(("places",), f"{name} has no place in the drawing", "place every component, or delete the file")
    for placed in drawing.places:
        where = ("places", placed.designation)
        if placed.designation not in told:
            document.fault(where, f"{placed.designation} is no component of this pack", "correct the designation")
            continue
        for wrong in [*_overlaps(drawing, placed), *_against(drawing, placed, told[placed.designation])]:
            document.fault(where, wrong, "correct the place, or the location sentence of the component")


def _overlaps(drawing: Drawing, placed: Placed) -> list[str]:
    a, found = placed.box, []
    for other in drawing.seen(placed.view):
        b = other.box
        apart = a.x + a.wide <= b.x or b.x + b.wide <= a.x or a.y + a.high <= b.y or b.y + b.high <= a.y
        if other.designation > placed.designation and not apart:
            found.append(f"{placed.designation} and {other.designation} lie on each other")
    return found


def _against(drawing: Drawing, placed: Placed, told: str) -> list[str]:
    name, wrong = placed.designation, []
    x, y = placed.box.middle
    if (rail := _RAIL.search(told)) and rail[1] != placed.rail:
        wrong.append(f"{name} is told to be on the {rail[1]} rail, drawn on `{placed.rail or 'none'}`")
    if nth := _NTH.search(told):
        row = [p for p in drawing.seen(placed.view) if p.rail == placed.rail and p.designation[:2] == name[:2]]
        drawn = sorted(row, key=lambda p: p.box.x).index(placed)
        if drawn != ORDINALS.index(nth[1].lower()):
            wrong.append(f"{name} is told to be the {nth[1].lower()} from the left, drawn as number {drawn + 1}")
    for side, other in _SIDE.findall(told):
        there = drawing.find(other)
        if there is None or there.view != placed.view:
            continue
        ox, oy = there.box.middle
        holds = {"above": y < oy, "over": y < oy, "below": y > oy, "left of": x < ox, "right of": x > ox}[side.lower()]
        if not holds:
            wrong.append(f"{name} is told to be {side.lower()} {other}, and is not drawn so")
    for one, two in _BETWEEN.findall(told):
        ends = [drawing.find(one), drawing.find(two)]
        xs = sorted(e.box.middle[0] for e in ends if e is not None and e.view == placed.view)
        if len(xs) == 2 and not xs[0] < x < xs[1]:
            wrong.append(f"{name} is told to be between {one} and {two}, and is not drawn so")
    return wrong
