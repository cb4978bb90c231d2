"""The text of an utterance -> the wires and terminals it names ("wire one one three", "terminal fourteen of X D 2")."""

from __future__ import annotations

from dataclasses import dataclass

from assistant.recognition.numbers import (
    DIGITS,
    TEENS,
    TENS,
    Token,
    digit_run_at,
    hundreds_at,
    short_hundreds_at,
    small_number_at,
    tokens_of,
)

WIRE_WORDS = frozenset({"wire", "wires", "conductor", "core"})
TERMINAL_WORDS = frozenset({"terminal", "terminals", "clamp", "pin"})
NUMBERING = frozenset({"number", "no", "nr", "numbered", "marked", "labelled", "labeled", "called", "#", ".", ":"})
BETWEEN = frozenset({":", ",", ".", "-", "/", "colon", "point", "dash", "terminal", "number", "no", "pin", "clamp"})
JOINING = frozenset({"of", "on", "at", "in", "from", "the", "rail", "strip", "block", ","})
NO_NUMBER = frozenset({"o", "oh", "nil", "zero", "nought", "naught"})
UNITS_AFTER = frozenset({"v", "volt", "volts", "a", "amp", "amps", "mm", "ma", "m", "ohm", "ohms", "w", "kw", "%"})
"""A number before one of these is a measure and no number of a wire."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TerminalMention:
    """A terminal by its number, with its rail ("XD2") or without one (empty)."""

    rail: str
    number: str


def wires_in(text: str) -> tuple[str, ...]:
    """The wire numbers named, in order, without repeats: "wire 24", "wire two four", "the 24 wire", "number 24, that wire"."""
    tokens = tokens_of(text)
    found: dict[str, None] = {}
    for i, token in enumerate(tokens):
        if token.text in WIRE_WORDS:
            numbers = _numbers(tokens, _after(tokens, i + 1, NUMBERING))
            if numbers:
                found.update((number, None) for number, _ in numbers)
            elif (before := _before_wire(tokens, i)) is not None:
                found[before] = None
    return tuple(found)


def terminals_in(text: str) -> tuple[TerminalMention, ...]:
    """The terminals named, in order: "XD2:14", "X D two fourteen", "terminal 14 of XD2", and "terminal 14" alone."""
    tokens = tokens_of(text)
    found: dict[TerminalMention, None] = {}
    i = 0
    while i < len(tokens):
        rail = _rail(tokens, i)
        if rail is not None:
            numbers = _numbers(tokens, _after(tokens, rail[1], BETWEEN), earth=True)
            if numbers:
                found.update((TerminalMention(rail=rail[0], number=number), None) for number, _ in numbers)
                i = numbers[-1][1]
                continue
        elif tokens[i].text in TERMINAL_WORDS:
            numbers = _numbers(tokens, _after(tokens, i + 1, NUMBERING), earth=True)
            if numbers:
                rail = _rail(tokens, _after(tokens, numbers[-1][1], JOINING))
                found.update((TerminalMention(rail=rail[0] if rail else "", number=n), None) for n, _ in numbers)
                i = rail[1] if rail else numbers[-1][1]
                continue
        i += 1
    return tuple(found)


def _after(tokens: tuple[Token, ...], i: int, passed: frozenset[str]) -> int:
    while i < len(tokens) and tokens[i].text in passed:
        i += 1
    return i


def _numbers(tokens: tuple[Token, ...], i: int, *, earth: bool = False) -> list[tuple[str, int]]:
    """The numbers from token i that are joined by "and" or "or" ("41 and 42")."""
    found: list[tuple[str, int]] = []
    while (number := _number(tokens, i, earth=earth)) is not None:
        found.append(number)
        i = number[1]
        if i >= len(tokens) or tokens[i].text not in ("and", "or"):
            break
        i += 1
    return found


def _number(tokens: tuple[Token, ...], i: int, *, earth: bool = False) -> tuple[str, int] | None:
    """A number, or with `earth` the letters PE, that starts at token i -> (as written, token after)."""
    if i >= len(tokens):
        return None
    text = tokens[i].text
    if earth and (text == "pe" or (text == "p" and i + 1 < len(tokens) and tokens[i + 1].text == "e")):
        return "PE", i + (1 if text == "pe" else 2)
    found = _digits(tokens, i)
    if found is None or len(found[0]) > 3 or not found[0].strip("0"):
        return None
    measured = found[1] < len(tokens) and tokens[found[1]].text in UNITS_AFTER
    return None if measured else (found[0].lstrip("0"), found[1])


def _digits(tokens: tuple[Token, ...], i: int) -> tuple[str, int] | None:
    text = tokens[i].text
    if text in NO_NUMBER:
        return None
    if text.isdecimal() and len(text) > 1:
        return text, i + 1
    hundred = hundreds_at(tokens, i) or short_hundreds_at(tokens, i)
    if hundred is not None:
        return hundred
    if text in TENS and i + 2 < len(tokens) and tokens[i + 1].text == "-" and tokens[i + 2].text in DIGITS:
        return str(TENS[text] + int(DIGITS[tokens[i + 2].text])), i + 3
    if text in TEENS or text in TENS:
        number = small_number_at(tokens, i)
        return (str(number[0]), number[1]) if number else None
    if not (text.isdecimal() or text in DIGITS or text == "double"):
        return None
    return digit_run_at(tokens, i)


def _rail(tokens: tuple[Token, ...], i: int) -> tuple[str, int] | None:
    """A terminal rail ("XD2", "x d two", "ex dee two") that starts at token i -> (as written, token after)."""
    if i >= len(tokens):
        return None
    if tokens[i].text == "xd":
        j = i + 1
    elif tokens[i].text in ("x", "ex", "xray") and i + 1 < len(tokens) and tokens[i + 1].text in ("d", "dee", "delta"):
        j = i + 2
    else:
        return None
    if j >= len(tokens):
        return None
    digit = tokens[j].text if tokens[j].text.isdecimal() else DIGITS.get(tokens[j].text, "")
    return (f"XD{digit}", j + 1) if digit and len(digit) == 1 and digit != "0" else None


def _before_wire(tokens: tuple[Token, ...], i: int) -> str | None:
    """A number right before the word wire, where something says that it is one: "number 31 wire", "34, that wire"."""
    j = i - 1
    pointed = False
    while j >= 0 and tokens[j].text in {",", "that", "this"}:
        pointed = pointed or tokens[j].text != ","
        j -= 1
    for start in range(max(0, j - 3), j + 1):
        number = _number(tokens, start)
        if number is not None and number[1] == j + 1:
            lead = tokens[start - 1].text if start else ""
            if lead == "number" or (pointed and j < i - 1) or (lead in {"the", "this", "that"} and len(number[0]) > 1):
                return number[0]
    return None
