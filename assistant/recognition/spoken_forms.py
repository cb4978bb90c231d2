"""The text of an utterance -> the codes, designations and signals it names, in every form in which people say them."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

from assistant.recognition.numbers import (
    DIGITS,
    Token,
    decimal_at,
    digit_run_at,
    hundreds_at,
    short_hundreds_at,
    small_number_at,
    tokens_of,
)

CODE_WORDS = frozenset(
    "code codes error errors err alarm alarms fault message number no nr display displays panel screen shows show showing says"
    " say saying trip flashing reads got have".split()
)
"""A three-digit number within three words after one of these is meant as a code, known or not."""
NAMING_WORDS = frozenset("code codes error err alarm message".split())
"""The words after which even an unknown number is certainly a code."""
PANEL_WORDS = frozenset("panel screen display readout".split())
"""Where codes are read."""
UNITS = frozenset(
    "v volt volts a amp amps ma mm cm m metre metres meter meters kg n newton newtons nm hz rpm r min minutes s sec second"
    " seconds hour hours w watt watts kw ohm ohms bar psi percent degrees c um micron microns turns times layers pallets"
    " mil gauge kilo kilos".split()
)
NOT_CODES = frozenset("wire wires terminal xd iec iso en osha cfr en415 model build".split())
NATO = {
    "alpha": "a", "alfa": "a", "bravo": "b", "charlie": "c", "delta": "d", "echo": "e", "foxtrot": "f", "golf": "g",
    "hotel": "h", "india": "i", "juliet": "j", "kilo": "k", "lima": "l", "mike": "m", "november": "n", "oscar": "o",
    "papa": "p", "quebec": "q", "romeo": "r", "sierra": "s", "tango": "t", "uniform": "u", "victor": "v",
    "whiskey": "w", "xray": "x", "yankee": "y", "zulu": "z",
}  # fmt: skip
LETTER_NAMES = {
    "ay": "a", "bee": "b", "cee": "c", "see": "c", "sea": "c", "dee": "d", "ee": "e", "ef": "f", "eff": "f", "gee": "g",
    "aitch": "h", "haitch": "h", "eye": "i", "jay": "j", "kay": "k", "el": "l", "ell": "l", "em": "m", "en": "n",
    "pee": "p", "cue": "q", "queue": "q", "ar": "r", "are": "r", "ess": "s", "tee": "t", "tea": "t", "ex": "x",
}  # fmt: skip
"""Letters written as they sound; taken only in pairs before a number, so that "are" and "see" stay words elsewhere."""
CODE_LETTERS = frozenset({"e", "f", "err", "error", "code", "no", "nr"})
"""Letters that people put before a code without a space ("E302")."""
CLASS_NOUNS = {
    "fuse": ("FC",), "fuses": ("FC",), "drive": ("TA",), "inverter": ("TA",), "motor": ("MA",), "brake": ("MB",),
    "contactor": ("QA",), "input": ("I",), "output": ("Q",), "sensor": ("BG",), "terminals": ("XD",),
}  # fmt: skip
"""Noun + number as people say it -> class letters of IEC 81346-2 (inputs and outputs: letters of the signal table)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CodeMention:
    """Three digits that may be a code: `named` when the words around say so, `certain` right after the word code."""

    digits: str
    named: bool
    certain: bool
    alone: bool


def codes_in(text: str) -> tuple[CodeMention, ...]:
    """Every three-digit number that is not a measurement, in order, without repeats."""
    tokens = tokens_of(text)
    found: dict[str, CodeMention] = {}
    i = 0
    while i < len(tokens):
        if decimal_at(tokens, i):
            i += 3
            continue
        digits, after = _number_at(tokens, i)
        if len(digits) in (6, 9) and digits == digits[:3] * (len(digits) // 3):
            digits = digits[:3]  # said twice or three times, to be sure
        if len(digits) == 3 and not _is_measured(tokens, i, after):
            before = [t.text for t in tokens[max(0, i - 3) : i]]
            mention = CodeMention(
                digits=digits,
                named=bool(CODE_WORDS.intersection(before)),
                certain=bool(NAMING_WORDS.intersection(before)) or _spelled_off_the_panel(tokens, i, after),
                alone=i == 0 and all(not t.text.isalnum() for t in tokens[after:]),
            )
            found.setdefault(digits, mention)
        i = max(after, i + 1)
    return tuple(found.values())


def _spelled_off_the_panel(tokens: tuple[Token, ...], i: int, after: int) -> bool:
    """Figures said in words with the panel near them ("it says nine nine nine on the screen") are read off it."""
    near = {t.text for t in (*tokens[max(0, i - 4) : i], *tokens[after : after + 4])}
    return all(t.text.isalpha() for t in tokens[i:after]) and bool(PANEL_WORDS & near)


def _number_at(tokens: tuple[Token, ...], i: int) -> tuple[str, int]:
    hundred = hundreds_at(tokens, i) or short_hundreds_at(tokens, i)
    if hundred is not None:
        return hundred
    if (
        tokens[i].glued
        and tokens[i].text.isdecimal()
        and i
        and tokens[i - 1].text.isalpha()
        and tokens[i - 1].text not in (DIGITS.keys() | CODE_LETTERS)
    ):
        return "", i + 1  # the figure of a designation such as FC3
    return digit_run_at(tokens, i)


def _is_measured(tokens: tuple[Token, ...], i: int, after: int) -> bool:
    if after < len(tokens) and (tokens[after].text in UNITS or tokens[after].text in "%°:"):
        return True
    before = {t.text for t in tokens[max(0, i - 2) : i]}
    terminal = i > 0 and tokens[i - 1].text == ":" and tokens[i].glued and tokens[i - 1].glued
    return bool(NOT_CODES & before) or terminal


def designations_in(text: str, known: Collection[str]) -> tuple[str, ...]:
    """The known designations and signals named in the text, in order, without repeats."""
    return tuple(dict.fromkeys(name for name, _, _ in _named(tokens_of(text), known)))


def written(text: str, known: Collection[str]) -> str:
    """The text with every known designation as it is written: "jump b g four" is searched and judged as "jump BG4"."""
    tokens = tokens_of(text)
    parts, at = [], 0
    for name, first, after in _named(tokens, known):
        start, end = tokens[first].start, tokens[after - 1].end
        if start >= at and text[start:end].upper() != name:
            parts += [text[at:start], name]
            at = end
    return "".join([*parts, text[at:]])


def _named(tokens: tuple[Token, ...], known: Collection[str]) -> list[tuple[str, int, int]]:
    """(designation, its first token, the token after it) of each known one."""
    found = []
    for i in range(len(tokens)):
        name, after = next(((n, j) for n, j in _designations_at(tokens, i) if n in known), ("", i))
        if name:
            found.append((name, i, after))
    return found


def _designations_at(tokens: tuple[Token, ...], i: int) -> list[tuple[str, int]]:
    word = tokens[i].text
    candidates: list[tuple[str, int]] = []
    if not word.isalpha():
        return candidates
    if len(word) <= 2 and not (tokens[i].glued and i and tokens[i - 1].text.isdecimal()):
        candidates += _with_number(word.upper(), tokens, i + 1)
    spelled = _letter(word)
    if spelled and i + 1 < len(tokens):
        j = i + 2 if tokens[i + 1].text in ".-" and i + 2 < len(tokens) else i + 1
        second = _letter(tokens[j].text)
        if second:
            candidates += _with_number((spelled + second).upper(), tokens, j + 1)
    if word in CLASS_NOUNS:
        j = i + 1
        if j < len(tokens) and tokens[j].text in {"no", "number", "nr"}:
            j += 1
        for letters in CLASS_NOUNS[word]:
            candidates += _with_number(letters, tokens, j)
    return candidates


def _letter(word: str) -> str:
    return word if len(word) == 1 else NATO.get(word) or LETTER_NAMES.get(word, "")


def _with_number(letters: str, tokens: tuple[Token, ...], i: int) -> list[tuple[str, int]]:
    while i < len(tokens) and tokens[i].text in {".", "-", "_", "#"}:
        i += 1
    number = small_number_at(tokens, i)
    return [(f"{letters}{number[0]}", number[1])] if number else []
