"""Digits typed or spoken -> digit strings ("2-0-4", "two oh four", "two hundred and four", "double one two", "5oh1")."""

from __future__ import annotations

import re
from dataclasses import dataclass

DIGITS = {
    "zero": "0", "oh": "0", "o": "0", "nought": "0", "naught": "0", "nil": "0",
    "one": "1", "two": "2", "three": "3", "four": "4", "five": "5", "six": "6", "seven": "7", "eight": "8", "nine": "9", "tree": "3", "fower": "4", "fife": "5", "ait": "8", "niner": "9",
}  # fmt: skip
"""Words for digits, those of radiotelephony (ICAO Annex 10, from memory) among them: people shout codes that way."""
TEENS = {
    "ten": 10, "eleven": 11, "twelve": 12, "thirteen": 13, "fourteen": 14, "fifteen": 15, "sixteen": 16,
    "seventeen": 17, "eighteen": 18, "nineteen": 19,
}  # fmt: skip
TENS = {
    "twenty": 20, "thirty": 30, "forty": 40, "fifty": 50, "sixty": 60, "seventy": 70, "eighty": 80, "ninety": 90,
}  # fmt: skip
_TOKEN = re.compile(r"[a-z]+|\d+|[^\sa-z\d]")


@dataclass(frozen=True, slots=True, kw_only=True)
class Token:
    """A run of letters or of digits, or one other character, with its place in the text; `glued` to the one before."""

    text: str
    start: int
    end: int
    glued: bool


def tokens_of(text: str) -> tuple[Token, ...]:
    """The lower-cased text cut where letters, digits and other characters meet."""
    lowered = text.lower()
    found: list[Token] = []
    for match in _TOKEN.finditer(lowered):
        glued = bool(found) and found[-1].end == match.start()
        found.append(Token(text=match.group(), start=match.start(), end=match.end(), glued=glued))
    return tuple(found)


def hundreds_at(tokens: tuple[Token, ...], i: int) -> tuple[str, int] | None:
    """A number "N hundred [and] …", or "a hundred and …", that starts at token i -> (three digits, token after), else None."""
    if i + 1 >= len(tokens) or tokens[i + 1].text != "hundred":
        return None
    unsaid = tokens[i].text == "a"  # "a hundred and four", but not "a hundred times"
    head = "1" if unsaid else DIGITS.get(tokens[i].text, tokens[i].text if tokens[i].text.isdecimal() else "")
    if len(head) != 1 or head == "0":
        return None
    j = i + 2
    if j < len(tokens) and tokens[j].text == "and":
        j += 1
    rest, after = _below_hundred(tokens, j)
    if unsaid and not rest:
        return None
    return (f"{head}{rest:02d}", after if rest else i + 2)


def short_hundreds_at(tokens: tuple[Token, ...], i: int) -> tuple[str, int] | None:
    """A number said as its hundred and the rest ("two fourteen", "one fifty two") -> (three digits, token after), else None."""
    head = DIGITS.get(tokens[i].text, "")
    if head in ("", "0") or i + 1 >= len(tokens) or tokens[i + 1].text not in TEENS | TENS:
        return None
    rest, after = _below_hundred(tokens, i + 1)
    return f"{head}{rest:02d}", after


def decimal_at(tokens: tuple[Token, ...], i: int) -> bool:
    """Whether a decimal fraction is typed at token i ("3.15"); single figures between points ("2.0.4") are said one by one."""
    if i + 2 >= len(tokens) or not (tokens[i].text.isdecimal() and tokens[i + 2].text.isdecimal()):
        return False
    joined = tokens[i + 1].text in ".," and tokens[i + 1].glued and tokens[i + 2].glued
    further = i + 4 < len(tokens) and tokens[i + 3].text == "." and tokens[i + 4].text.isdecimal()
    return joined and not further


def small_number_at(tokens: tuple[Token, ...], i: int) -> tuple[int, int] | None:
    """A number below a hundred, in digits or words, that starts at token i -> (number, token after), else None."""
    if i < len(tokens) and tokens[i].text.isdecimal() and len(tokens[i].text) <= 2:
        return int(tokens[i].text), i + 1
    number, after = _below_hundred(tokens, i)
    return (number, after) if after > i else None


def _below_hundred(tokens: tuple[Token, ...], i: int) -> tuple[int, int]:
    if i >= len(tokens):
        return 0, i
    word = tokens[i].text
    if word in TEENS:
        return TEENS[word], i + 1
    if word in TENS:
        unit = DIGITS.get(tokens[i + 1].text, "") if i + 1 < len(tokens) else ""
        return (TENS[word] + int(unit), i + 2) if unit and unit != "0" else (TENS[word], i + 1)
    if word in DIGITS:
        return int(DIGITS[word]), i + 1
    return 0, i


def digit_run_at(tokens: tuple[Token, ...], i: int) -> tuple[str, int]:
    """Digits said or typed one after the other from token i -> (digits, token after); hyphens and points between count."""
    digits, j = "", i
    while j < len(tokens):
        text = tokens[j].text
        if text.isdecimal():
            digits += text
        elif text in DIGITS:
            digits += DIGITS[text]
        elif text == "double" and j + 1 < len(tokens) and tokens[j + 1].text in DIGITS:
            digits += DIGITS[tokens[j + 1].text] * 2
            j += 1
        elif not (text in "-.–/" and digits and j + 1 < len(tokens) and _is_digit(tokens[j + 1].text)):
            break
        j += 1
    return digits, j


def _is_digit(text: str) -> bool:
    return text.isdecimal() or text in DIGITS or text == "double"
