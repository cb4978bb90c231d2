"""A matplotlib figure -> inline SVG that takes its colours from the page and says in words what it shows."""

from __future__ import annotations

import io
import re
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any
from xml.etree import ElementTree

import matplotlib
from markupsafe import Markup
from matplotlib.figure import Figure

INK, SOFT, LINE, PAPER = "#010101", "#010102", "#010103", "#010104"
ONE, TWO, WANTED = "#010105", "#010106", "#010107"
HEAT = ("#010108", "#010109", "#01010a", "#01010b")
"""Colours that are drawn with: each only stands for a variable of the style sheet, which day and night set differently."""

_VARIABLES = {
    INK: "--ink", SOFT: "--soft", LINE: "--line", PAPER: "--card", ONE: "--series-1", TWO: "--series-2",
    WANTED: "--wanted", **{colour: f"--heat-{place}" for place, colour in enumerate(HEAT, start=1)},
}  # fmt: skip
_COLOUR = re.compile("|".join(_VARIABLES))
_FONT = re.compile(r"(font: [^']*?)'[^;]*?(;|$)")
_REFERENCE = re.compile(r"#([\w-]+)")

STYLE: dict[Any, Any] = {
    "svg.hashsalt": "report",  # the same figure has the same ids in every process
    "svg.fonttype": "none",  # text stays text: small, searchable, in the page's own letters
    "text.parse_math": False,  # a dollar sign in a name is a dollar sign
    "font.size": 11.5,
    "axes.edgecolor": LINE,
    "axes.labelcolor": SOFT,
    "axes.facecolor": "none",
    "figure.facecolor": "none",
    "axes.spines.top": False,
    "axes.spines.right": False,
    "xtick.color": SOFT,
    "ytick.color": SOFT,
    "text.color": INK,
    "grid.color": LINE,
}
"""What all plots have in common."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Plot:
    """A drawing for the page: the SVG, a caption under it, `wide` where it needs the whole width."""

    name: str
    title: str
    caption: str
    svg: Markup
    wide: bool = False


@contextmanager
def drawing() -> Iterator[None]:
    """Draw inside of this, so that the settings of whoever calls change nothing and are not changed."""
    with matplotlib.rc_context():
        matplotlib.rcdefaults()
        matplotlib.rcParams.update(STYLE)
        yield


def inline(drawn: Figure, name: str, title: str, description: str) -> Markup:
    """The figure as an `<svg>` element; `name` must be unique on the page, `description` replaces the picture."""
    out = io.BytesIO()
    nothing = dict.fromkeys(("Date", "Creator", "Format", "Type"))  # a date would make every file differ
    drawn.savefig(out, format="svg", metadata=nothing)
    root = ElementTree.fromstring(out.getvalue())
    for parent in list(root.iter()):
        for child in list(parent):
            if child.tag.endswith("}style"):  # a style inside of an SVG would hold for the whole page
                parent.remove(child)
    _bare_names(root)
    _own_ids(root, name)
    view = root.get("viewBox", "")
    root.attrib.clear()
    root.attrib.update({"viewBox": view, "role": "img", "aria-labelledby": f"{name}-title {name}-words"})
    for place, (tag, text) in enumerate((("title", title), ("desc", description))):
        element = ElementTree.Element(tag, {"id": f"{name}-{'words' if place else 'title'}"})
        element.text = text
        root.insert(place, element)
    text = ElementTree.tostring(root, encoding="unicode", short_empty_elements=False)
    # matplotlib and ElementTree made this text, and escaped what they were given
    return Markup(_COLOUR.sub(lambda found: f"var({_VARIABLES[found.group()]})", text))


def _bare_names(root: ElementTree.Element) -> None:
    """Names without their namespace: inside of HTML the parser knows them, and the page holds no address."""
    for element in root.iter():
        element.tag = element.tag.rpartition("}")[2]
        for key in list(element.attrib):
            value = element.attrib.pop(key)
            if key == "style":
                value = _FONT.sub(r"\1var(--sans)\2", value)
            element.attrib[key.rpartition("}")[2]] = value


def _own_ids(root: ElementTree.Element, name: str) -> None:
    """Ids that something refers to carry the plot's name, the others go: no id stands twice on the page."""
    used = {
        r
        for e in root.iter()
        for k, v in e.attrib.items()
        if k != "style" or "url(" in v
        for r in _REFERENCE.findall(v)
    }
    for element in root.iter():
        own = element.attrib.pop("id", None)
        if own in used:
            element.attrib["id"] = f"{name}-{own}"
        for key in ("href", "clip-path", "style"):
            if "#" in element.get(key, "") and (key != "style" or "url(" in element.get(key, "")):
                element.attrib[key] = element.attrib[key].replace("#", f"#{name}-")
