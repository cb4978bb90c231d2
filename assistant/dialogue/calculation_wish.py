"""Words -> the calculation that they ask for, and which figure in them is which input; by authored patterns only."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache

from assistant.calculation.declaration import Calculator, Input
from assistant.calculation.registry import calculators
from assistant.domain.calculation import Given
from assistant.recognition.readings import Placed, Reading, in_unit, placed_readings

REACH = 4
"""Words between a figure and the word that says which input it is."""
MOST_WORDS = 40
"""A longer text tells a story; it is a question for the knowledge."""
_EXPLICIT = re.compile(
    r"^(?:please |can you |could you |let'?s )*(?:calc(?:ulate)?|compute|work out|figure out)\b", re.IGNORECASE
)
_NAME = re.compile(r"\b[a-z]{2}\d{1,2}\b", re.IGNORECASE)
_FRACTION = re.compile(r"\b(?:(\d+)[ -])?(\d+)/(\d+)(?=\s*[a-z])", re.IGNORECASE)
_AREA = re.compile(r"(?<=mm)2\b|(?<=m/s)2\b")
_QUARTERS = re.compile(r"\bthree[ -]quarters?\b(?: of an?)?", re.IGNORECASE)
_SINGLE = re.compile(r"\bsingle[ -]phase\b", re.IGNORECASE)
_THREAD = re.compile(r"\bM ?(\d{1,2})\b")
_BOLT = re.compile(r"\b(?:bolt|screw|nut|thread)s?\b", re.IGNORECASE)
_BY = re.compile(
    r"(\d[\d.]*) ?(mm|cm|m|inch(?:es)?|met(?:re|er)s?)? ?(?:by|x|×) ?(\d[\d.]*) ?(mm|cm|m|inch(?:es)?|met(?:re|er)s?)\b",
    re.IGNORECASE,
)
_THOUSANDS = re.compile(r"\d,\d{3}\b")
_SAID_ONE = ("one", "a", "two", "three")
"""Small numbers in words count things ("one phase at ..."); a figure off a meter is never said so without its unit."""
_OTHER = re.compile(r"[^\w.· -]")
_HALVES = ("half", "quarter")
_DEGREES = ("degree", "degrees", "deg", "°")


@dataclass(frozen=True, slots=True, kw_only=True)
class Wish:
    """A calculation asked for, and the inputs that its words give."""

    calculator: Calculator
    given: tuple[Given, ...]


def wish_of(text: str) -> Wish | None:
    """The calculation that the words ask for; None for anything else.

    It takes an authored pattern and at least one figure that fits an input, or the words "calculate" or "work out" with the
    calculator's name. Of several the one that takes most of the figures is meant, then the first in the list.
    """
    plain = " ".join(text.replace("’", "'").split())
    if len(plain.split()) > MOST_WORDS or _THOUSANDS.search(plain):
        return None
    lowered = plain.lower()
    explicit = bool(_EXPLICIT.search(plain))
    if not explicit and (" " not in plain or not placed_readings(readable(plain))):
        return None  # nothing to calculate with; the calculators need not even be read
    best: tuple[int, int] | None = None
    chosen: Wish | None = None
    for order, calculator in enumerate(calculators().values()):
        named = explicit and all(re.search(rf"\b{part}", lowered) for part in calculator.name.split("-"))
        if not named and not any(all(p.search(lowered) for p in group) for group in _patterns(calculator.name)):
            continue
        given = figures_of(calculator, plain)
        if not named and all(calculator.inputs[item.name].choices for item in given):
            continue
        rank = (len(given) + 10 * named, -order)
        if best is None or rank > best:
            best, chosen = rank, Wish(calculator=calculator, given=given)
    return chosen


@cache
def _patterns(name: str) -> tuple[tuple[re.Pattern[str], ...], ...]:
    return tuple(tuple(re.compile(p) for p in group) for group in calculators()[name].wishes)


def readable(text: str) -> str:
    """The text with figures as they are read: fractions, areas, "three quarters", threads and "1.2 by 1 m"; no designations."""

    def decimal(match: re.Match[str]) -> str:
        whole, above, below = (int(part or 0) for part in match.groups())
        return f"{whole + above / below:.6g}" if below else match.group()

    def sides(match: re.Match[str]) -> str:
        one, unit, other, same = match.groups()
        return f"{one} {unit or same} long {other} {same} wide"

    plain = _NAME.sub(" ", _AREA.sub("²", text))
    plain = _SINGLE.sub("1 phase", _QUARTERS.sub("0.75 ", _FRACTION.sub(decimal, plain)))
    plain = _BY.sub(sides, plain)
    return _THREAD.sub(r"\1 mm", plain) if _BOLT.search(plain) else plain


def figures_of(calculator: Calculator, text: str, first: str = "") -> tuple[Given, ...]:
    """The figures and words of a text as inputs; `first` is the one that was asked for and takes a figure of its kind first."""
    placed = placed_readings(readable(text))
    found: dict[str, str] = {}
    _several(calculator, placed, found)
    left = [item for item in placed if not _is_in(found, item)]
    if first and first not in found:
        item = next((p for p in left if _text(calculator.inputs[first], p) is not None), None)
        if item is not None:
            found[first] = _text(calculator.inputs[first], item) or ""
            left.remove(item)
    _labelled(calculator, left, found)
    _bare(calculator, left, found)
    _words(calculator, text, found)
    return tuple(Given(name=name, text=found[name]) for name in calculator.inputs if name in found)


def _several(calculator: Calculator, placed: tuple[Placed, ...], found: dict[str, str]) -> None:
    """An input of several figures takes all of its kind; those before the last may be said without the unit."""
    for name, wanted in calculator.inputs.items():
        if not wanted.many or sum(1 for i in calculator.inputs.values() if i.unit == wanted.unit) > 1:
            continue
        last = max((n for n, p in enumerate(placed) if p.reading.unit and _fits(wanted, p)), default=-1)
        run = [
            p.reading
            for p in placed
            if _fits(wanted, p) or (not p.reading.unit and p.reading.text.lower() not in _SAID_ONE)
        ]
        if last >= 0 and len(run) > 1:
            unit = placed[last].reading.unit
            found[name] = ", ".join(f"{reading.value:.12g} {reading.unit or unit}" for reading in run)


def _is_in(found: Mapping[str, str], item: Placed) -> bool:
    return any(f"{item.reading.value:.12g} " in f"{text} " for text in found.values() if "," in text)


def _labelled(calculator: Calculator, left: list[Placed], found: dict[str, str]) -> None:
    """Figures beside a word that says which input they are, nearest first."""
    pairs = []
    for n, item in enumerate(left):
        for order, (name, wanted) in enumerate(calculator.inputs.items()):
            away = _distance(wanted, item)
            if away is not None and name not in found and _text(wanted, item) is not None:
                pairs.append((away, n, order, name))
    taken: set[int] = set()
    for _, n, _, name in sorted(pairs):
        if n not in taken and name not in found:
            found[name] = _text(calculator.inputs[name], left[n]) or ""
            taken.add(n)
    left[:] = [item for n, item in enumerate(left) if n not in taken]


def _bare(calculator: Calculator, left: list[Placed], found: dict[str, str]) -> None:
    """Figures without such a word go to the one input of their kind that takes them so."""
    for item in left:
        fitting = [
            name
            for name, wanted in calculator.inputs.items()
            if wanted.bare and name not in found and _text(wanted, item)
        ]
        if item.reading.unit and fitting:
            found[fitting[0]] = _text(calculator.inputs[fitting[0]], item) or ""


def _words(calculator: Calculator, text: str, found: dict[str, str]) -> None:
    """Inputs that are words, where one of their words stands in the text; single letters and figures are too easily met."""
    lowered = f" {' '.join(_OTHER.sub(' ', text.lower()).split())} "
    for name, wanted in calculator.inputs.items():
        for word, others in wanted.choices.items():
            said = [other for other in (word, *others) if len(other) > 2 and (not other[0].isdigit() or "." in other)]
            if name not in found and any(f" {other.lower()} " in lowered for other in said):
                found[name] = word


def _distance(wanted: Input, item: Placed) -> int | None:
    """Words between the figure and the nearest of the input's words; what follows counts before what goes before."""
    own = tuple(item.reading.text.lower().split()[1:])  # "10 turns": the unit may be the word
    after, before = item.after[: REACH + 2], item.before[-REACH - 2 :]
    best: int | None = None
    for label in wanted.said:
        words = tuple(label.lower().removeprefix(">").split())
        rows: tuple[tuple[int, tuple[str, ...]], ...] = ((0, own), (0, after), (1, before))
        if label.startswith(">"):  # counts only right behind the figure
            rows = ((0, item.after[: len(words)]),)
        for side, row in rows:
            for i in range(len(row) - len(words) + 1):
                if tuple(row[i : i + len(words)]) != words:
                    continue
                gap = i if side == 0 else len(row) - i - len(words)
                away = 2 * gap + side
                if gap <= REACH and (best is None or away < best):
                    best = away
    return best


def _fits(wanted: Input, item: Placed) -> bool:
    return _text(wanted, item) is not None


def _text(wanted: Input, item: Placed) -> str | None:
    """The figure as text for an input, None where it is of another kind; "half" is 50 % and "mil" is film's."""
    reading = item.reading
    if wanted.choices or wanted.named:
        return None
    if wanted.free:
        return _written(reading, reading.unit)
    if not wanted.unit:
        return _written(reading, "") if reading.unit in ("", "times") else None
    if wanted.unit == "%" and not reading.unit and reading.text.split()[-1].lower() in _HALVES + ("a", "of", "an"):
        return f"{100 * reading.value:.12g} %"
    if wanted.unit == "°" and not reading.unit and item.after[:1] and item.after[0] in _DEGREES:
        return _written(reading, "°")
    if wanted.unit == "µm" and reading.text.lower().endswith(("mil", "mils")):
        return _written(reading, "mil")
    if not reading.unit or in_unit(reading, wanted.unit) is None:
        return None
    return _written(reading, reading.unit)


def _written(reading: Reading, unit: str) -> str:
    return f"{reading.value:.12g} {unit}".strip()
