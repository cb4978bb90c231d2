"""Words or digits with a unit -> a reading ("twenty three point eight volts", "0.3 mm", "minus five degrees celsius")."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import yaml

from assistant.recognition.numbers import DIGITS, TEENS, TENS

UNITS = Path(__file__).with_name("units.yaml")
_TOKEN = re.compile(
    r"\d+(?:[.,]\d+)?(?:e[-+]?\d+\b)?|[^\W\d]+(?:[·/][^\W\d]+)*(?:\([^\W\d]+\))?|%|°\s?[a-z]|-(?=\s?[\d.])",
    re.IGNORECASE,
)
_SCALES = {"hundred": 100, "thousand": 1000, "million": 1_000_000}
_SMALL = {word: int(digit) for word, digit in DIGITS.items() if word != "o"} | TEENS | TENS
_HALVES = {"half": 0.5, "quarter": 0.25}
_PARTS = {"half": 2, "quarter": 4, "third": 3, "tenth": 10, "hundredth": 100}
_MANY_PARTS = {"halves": 2, "quarters": 4, "quarter": 4, "thirds": 3, "tenths": 10, "hundredths": 100}
"""Parts of one, after "one" and after a greater number ("three quarter inch" is said too)."""
ORDINALS = frozenset("first third fourth fifth sixth seventh eighth ninth".split())
"""After tens or a hundred in words the number is a place in a row and no reading; "twenty second" may be a time."""
_POINT = ("point", "dot", "decimal")
LONGEST_UNIT = 4
"""Words of the longest unit that is said."""
ENDLESS = re.compile(r"\b(?:ol|o l|over ?(?:limit|load|range)|infinit\w*|open circuit|open line)\b", re.IGNORECASE)
"""What a meter shows, and people say, above its range."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """A figure as it was read: value in its unit, the unit as written here ("" when none was said), the words it came from."""

    value: float
    unit: str
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Unit:
    """How a unit is written, the unit that it is a multiple of, and the factor to it."""

    name: str
    of: str
    factor: float


@cache
def units_said() -> Mapping[tuple[str, ...], Unit]:
    """Lower-cased words of each way to say a unit -> the unit; where case tells two apart, as written comes first."""
    table = yaml.safe_load(UNITS.read_text(encoding="utf-8"))
    said: dict[tuple[str, ...], Unit] = {}
    for name, row in table.items():
        unit = Unit(name=name, of=row.get("of", name), factor=float(row["factor"]))
        for words in row["said"]:
            tokens = tuple(_TOKEN.findall(words))
            said[tokens] = unit
            said.setdefault(tuple(token.lower() for token in tokens), unit)
    return said


def in_unit(reading: Reading, wanted: str) -> float | None:
    """The reading's value in another unit; None where the two do not measure the same thing."""
    one, other = _unit(reading.unit), _unit(wanted)
    if one is None or other is None or one.of != other.of:
        return None
    return reading.value if one == other else reading.value * one.factor / other.factor


def _unit(name: str) -> Unit | None:
    said = units_said()
    tokens = tuple(_TOKEN.findall(name))
    return said.get(tokens) or said.get(tuple(token.lower() for token in tokens))


def is_unit(text: str) -> bool:
    """Whether the words are a unit and nothing else."""
    return _unit(text.strip(" .!?").lower()) is not None or _unit(text.strip(" .!?")) is not None


def is_endless(text: str) -> bool:
    """Whether the words say that the meter is over its range."""
    return bool(ENDLESS.search(text))


@dataclass(frozen=True, slots=True, kw_only=True)
class Placed:
    """A reading and the words around it: `before` and `after` run, lower-cased, to the readings next to it."""

    reading: Reading
    before: tuple[str, ...]
    after: tuple[str, ...]


def readings_in(text: str) -> tuple[Reading, ...]:
    """Every figure of the text with its unit, in order."""
    return tuple(placed.reading for placed in placed_readings(text))


def placed_readings(text: str) -> tuple[Placed, ...]:
    """Every figure of the text with its unit and the words around it, in order; one beyond all numbers is none."""
    tokens = _TOKEN.findall(text)
    spans: list[tuple[int, int, Reading]] = []
    i = 0
    while i < len(tokens):
        number, after = number_at(tokens, i)
        if number is None or not math.isfinite(number) or _is_place(tokens, i, after):
            i = max(after, i + 1)
            continue
        unit, end = _unit_at(tokens, after)
        spans.append((i, end, Reading(value=number, unit=unit, text=" ".join(tokens[i:end]))))
        i = end
    words = [token.lower() for token in tokens]
    starts = [start for start, _, _ in spans[1:]] + [len(tokens)]
    ends = [0, *(end for _, end, _ in spans)]
    return tuple(
        Placed(reading=reading, before=tuple(words[ends[n] : start]), after=tuple(words[end : starts[n]]))
        for n, (start, end, reading) in enumerate(spans)
    )


def one_reading(text: str) -> Reading | None:
    """The one reading that a text gives, "ten links are 128 mm" being 128 mm; None where it gives none or several."""
    found = readings_in(text)
    with_unit = [reading for reading in found if reading.unit]
    if len(with_unit) == 1:
        return with_unit[0]
    return found[0] if len(found) == 1 else None


def _is_place(tokens: Sequence[str], i: int, after: int) -> bool:
    """Whether the number from token i on is the first part of an ordinal ("twenty first", "one hundred and third")."""
    if after < len(tokens) and tokens[after].lower() == "and":
        after += 1
    words = [token.lower() for token in tokens[i : after + 1]]
    tens = any(word in TENS or word == "hundred" for word in words)
    return after < len(tokens) and tens and words[-1] in ORDINALS


def number_at(tokens: Sequence[str], i: int) -> tuple[float | None, int]:
    """The number that starts at token i, in digits or words, and the token after it."""
    sign = 1.0
    if tokens[i].lower() in ("minus", "negative", "-"):
        sign, i = -1.0, i + 1
    value, after = _unsigned(tokens, i)
    if value is None:
        return None, i
    extra, end = _and_a_half(tokens, after)
    return sign * (value + extra), end


def _unsigned(tokens: Sequence[str], i: int) -> tuple[float | None, int]:
    if i >= len(tokens):
        return None, i
    if tokens[i][0].isdigit():
        return _digits(tokens, i)
    word = tokens[i].lower()
    if word in _POINT:
        return _decimals(tokens, i, 0.0)
    if word == "a" and i + 1 < len(tokens) and tokens[i + 1].lower() in _SCALES:
        return _words(tokens, i + 1)
    if word in _HALVES or (word == "a" and i + 1 < len(tokens) and tokens[i + 1].lower() in _HALVES):
        at = i if word in _HALVES else i + 1
        end = at + 1 + (at + 1 < len(tokens) and tokens[at + 1].lower() in ("a", "an", "of"))
        return _HALVES[tokens[at].lower()], end
    parts = _parts(tokens, i)
    if parts is not None:
        return parts
    if word not in _SMALL and word not in _SCALES:
        return None, i
    return _words(tokens, i)


def _parts(tokens: Sequence[str], i: int) -> tuple[float, int] | None:
    """A fraction in words ("one half", "three quarters of a", "two tenths") that starts at token i."""
    words = [token.lower() for token in tokens[i : i + 4]]
    number = _SMALL.get(words[0], 0) if words else 0
    into = (_PARTS if number == 1 else _MANY_PARTS).get(words[1], 0) if len(words) > 1 else 0
    if not number or not into:
        return None
    more = 0
    if words[2:3] == ["of"]:
        more = 2 if words[3:4] in (["a"], ["an"]) else 1
    return number / into, i + 2 + more


def _digits(tokens: Sequence[str], i: int) -> tuple[float | None, int]:
    value, i = float(tokens[i].replace(",", ".")), i + 1
    while i < len(tokens) and tokens[i].lower() in _SCALES:
        value, i = value * _SCALES[tokens[i].lower()], i + 1
    if i < len(tokens) and tokens[i].lower() in _POINT and value.is_integer():
        return _decimals(tokens, i, value)
    return value, i


def _words(tokens: Sequence[str], i: int) -> tuple[float | None, int]:
    """English cardinals ("two hundred and thirty"), short ones ("two thirty"), and digit by digit ("two three oh")."""
    total, hundreds, small, start = 0, 0, list[int](), i
    while i < len(tokens):
        word = tokens[i].lower()
        if word in _SMALL:
            small.append(_SMALL[word])
        elif word == "hundred":
            hundreds, small = hundreds + 100 * (_together(small) or 1), []
        elif word in _SCALES:
            total, hundreds, small = total + _SCALES[word] * ((hundreds + _together(small)) or 1), 0, []
        elif not (word == "and" and i > start and i + 1 < len(tokens) and tokens[i + 1].lower() in _SMALL):
            break
        elif _parts(tokens, i + 1) is not None:
            break  # "two and one half"
        i += 1
    value = float(total + hundreds + _together(small))
    if i < len(tokens) and tokens[i].lower() in _POINT:
        return _decimals(tokens, i, value)
    return value, i


def _together(small: Sequence[int]) -> int:
    """Numbers below a hundred said one after the other, as one number."""
    if len(small) > 1 and all(value < 10 for value in small):
        return int("".join(str(value) for value in small))
    if len(small) > 1 and 0 < small[0] < 10 and small[1] >= 10:
        return 100 * small[0] + sum(small[1:])
    return sum(small)


def _decimals(tokens: Sequence[str], i: int, whole: float) -> tuple[float | None, int]:
    """Digits after "point", one by one, as a pair ("twenty five") or in figures."""
    start, small, digits, i = i + 1, list[int](), "", i + 1
    while i < len(tokens) and (tokens[i].isdigit() or tokens[i].lower() in _SMALL):
        if tokens[i].isdigit():
            digits += tokens[i]
        else:
            small.append(_SMALL[tokens[i].lower()])
        i += 1
    if i == start:
        return None, i
    if small and small[0] == 0 or all(value < 10 for value in small):
        digits += "".join(str(value) for value in small)
    elif small:
        digits += str(_together(small))
    return float(f"{whole:.0f}.{digits}"), i


def _and_a_half(tokens: Sequence[str], i: int) -> tuple[float, int]:
    words = [token.lower() for token in tokens[i : i + 3]]
    if words[:2] == ["and", "a"] and words[2:] and words[2] in _HALVES:
        return _HALVES[words[2]], i + 3
    parts = _parts(tokens, i + 1) if words[:1] == ["and"] else None
    return parts or (0.0, i)


def _unit_at(tokens: Sequence[str], i: int) -> tuple[str, int]:
    said = units_said()
    for length in range(min(LONGEST_UNIT, len(tokens) - i), 0, -1):
        words = tuple(tokens[i : i + length])
        unit = said.get(words) or said.get(tuple(word.lower() for word in words))
        if unit is not None:
            return unit.name, i + length
    return "", i
