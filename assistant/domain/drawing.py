"""Where each designation sits: views in millimetres, seen from the front, with the origin at the top left."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Box:
    """A rectangle of a view in millimetres."""

    x: float
    y: float
    wide: float
    high: float

    @property
    def middle(self) -> tuple[float, float]:
        """Its centre."""
        return self.x + self.wide / 2, self.y + self.high / 2


@dataclass(frozen=True, slots=True, kw_only=True)
class Shape:
    """An outline that helps the eye: the mounting plate, the mast."""

    label: str
    box: Box


@dataclass(frozen=True, slots=True, kw_only=True)
class Placed:
    """A designation at its place, on a rail where it sits on one."""

    designation: str
    view: str
    box: Box
    rail: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class View:
    """One side that a person looks at."""

    id: str
    title: str
    wide: float
    high: float
    notes: tuple[str, ...] = ()
    shapes: tuple[Shape, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawing:
    """The drawing of one machine."""

    pack: str
    views: tuple[View, ...]
    places: tuple[Placed, ...]

    def find(self, designation: str) -> Placed | None:
        """The place of a designation, in any case of letters."""
        return next((p for p in self.places if p.designation == designation.upper()), None)

    def view(self, name: str) -> View:
        """The view of that id."""
        return next(v for v in self.views if v.id == name)

    def seen(self, view: str) -> tuple[Placed, ...]:
        """What a view shows, from top to bottom and from left to right."""
        return tuple(sorted((p for p in self.places if p.view == view), key=lambda p: (p.box.y, p.box.x)))

    def neighbours(self, placed: Placed) -> tuple[Placed, ...]:
        """The two nearest of the same view, on the same rail where it has one."""
        others = [p for p in self.seen(placed.view) if p is not placed]
        x, y = placed.box.middle

        def far(other: Placed) -> tuple[bool, float, str]:
            ox, oy = other.box.middle
            return bool(placed.rail) and other.rail != placed.rail, abs(ox - x) + abs(oy - y), other.designation

        return tuple(sorted(others, key=far)[:2])
