"""Written text -> what is said aloud: "FC3" -> "F C 3", "0.3 mm" -> "zero point three millimetres", code 204 -> "two zero four".

The other half of the grammar by which speech is heard (spoken_forms, readings): what is said here is understood there.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from functools import cache
from pathlib import Path

import yaml

from assistant.recognition.numbers import TEENS, TENS

UNITS = Path(__file__).with_name("spoken_units.yaml")
ONES = ("zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine")
"""How a digit is said: the plainest of the words by which it is heard."""
SCALES = ((1_000_000, "million"), (1000, "thousand"))
FRACTIONS = {
    "1/2": "one half", "½": "one half", "1/4": "one quarter", "¼": "one quarter", "3/4": "three quarters",
    "¾": "three quarters", "1/3": "one third", "2/3": "two thirds",
}  # fmt: skip
ORDINALS = {
    "one": "first", "two": "second", "three": "third", "five": "fifth", "eight": "eighth", "nine": "ninth", "twelve": "twelfth",
}  # fmt: skip
SIGNS = {
    "±": " plus or minus ", "×": " by ", "≤": " at most ", "≥": " at least ", "<": " below ", ">": " above ",
    "=": " equals ", "→": " to ", "–": ", ", "—": ", ", "&": " and ", "+": " plus ", "~": " about ", "°": " degrees ",
}  # fmt: skip
SHORT = {
    "e.g.": "for example", "i.e.": "that is", "etc.": "and so on", "approx.": "about", "no.": "number", "DC": "D C", "AC": "A C",
}  # fmt: skip
CODE_BEFORE = re.compile(
    r"\b(?:codes?|alarms?|errors?|faults?|displays?|shows?)[\s:]+(?:\d{3}(?:,? (?:and|or) |, ))*$", re.IGNORECASE
)
"""What stands before a number that is a code; other bare numbers of three digits are codes when they are known."""
_NUMBER = r"\d{1,3}(?:,\d{3})+(?!\d)|\d+(?:[.,]\d+)?"
_LONE_UNITS = ("mm", "MΩ", "kΩ", "Ω", "mA", "kg", "µm", "N·m", "°C", "r/min", "mV", "kN")
"""Units that are said in full even without a figure before them; they stand for no word."""


@cache
def spoken_units() -> Mapping[str, tuple[str, str]]:
    """Unit as written -> one of it, several of it."""
    table = yaml.safe_load(UNITS.read_text(encoding="utf-8"))
    return {str(unit): (one, several) for unit, (one, several) in table.items()}


@cache
def _pattern() -> re.Pattern[str]:
    units = "|".join(re.escape(unit) for unit in sorted(spoken_units(), key=len, reverse=True))
    return re.compile(
        rf"(?P<standard>\b(?:IEC|ISO|EN|NFPA|ANSI|CFR|OSHA|UL|DIN) [\d.:-]*\d)"
        rf"|(?<![\w.,/])(?P<whole>\d+)(?:\s?(?P<mixed>[½¼¾])| (?P<over>1/2|1/3|2/3|1/4|3/4)(?![\w/]))(?:\s?(?P<of>{units})(?![\w²/·]))?"
        rf"|(?P<fraction>(?<![\w/])(?:1/2|1/3|2/3|1/4|3/4)(?![\w/])|[½¼¾])"
        rf"|(?P<designation>\b[A-Z]{{1,2}}\d{{1,3}}\b(?::(?:\d+|PE)\b)?)"
        rf"|(?P<ordinal>\b\d+(?:st|nd|rd|th)\b)"
        rf"|(?P<sign>(?<![\w.-])[-−](?=\d))?(?<![\w.])(?P<number>{_NUMBER})"
        rf"(?:(?P<dash>\s?[–-]\s?)(?P<end>{_NUMBER}))?(?:\s?(?P<unit>{units})(?![\w²/·]))?"
        rf"|(?<![\w/])(?P<lone>{'|'.join(map(re.escape, _LONE_UNITS))})(?![\w/²])"
        rf"|(?<!\w)(?P<short>{'|'.join(map(re.escape, SHORT))})(?!\w)"
        rf"|(?P<symbol>[{re.escape(''.join(SIGNS))}])"
    )


def say_text(text: str, codes: frozenset[str] = frozenset()) -> str:
    """Any authored sentence as it is said aloud; `codes` are the known codes, said digit by digit wherever they stand."""
    said = _pattern().sub(lambda match: _said(match, codes), text)
    return re.sub(r"\s+([,.;:!?])", r"\1", " ".join(said.split()))


def say_code(digits: str) -> str:
    """A code digit by digit."""
    return " ".join(ONES[int(digit)] for digit in digits)


def say_designation(name: str) -> str:
    """Letters one by one, then the number: "F C 3"; a terminal of it after the word terminal."""
    name, _, terminal = name.partition(":")
    letters = name.rstrip("0123456789")
    said = f"{' '.join(letters)} {name[len(letters) :]}".strip()
    return f"{said} terminal {' '.join(terminal) if terminal.isalpha() else terminal}" if terminal else said


def say_number(figure: str) -> str:
    """A number as written in figures, in words; decimals one by one."""
    negative = figure[:1] in "-−"
    plain = figure[1:] if negative else figure
    plain = plain.replace(",", "") if re.fullmatch(r"\d{1,3}(?:,\d{3})+", plain) else plain.replace(",", ".")
    whole, _, decimals = plain.partition(".")
    said = cardinal(int(whole)) + (f" point {say_code(decimals)}" if decimals else "")
    return f"minus {said}" if negative else said


def say_figure(figure: str, unit: str) -> str:
    """A figure with its unit in words; a unit that has no spoken form stays as written."""
    one, several = spoken_units().get(unit, (unit, unit))
    return f"{say_number(figure)} {one if figure.lstrip('-−') == '1' else several}".strip()


def cardinal(number: int) -> str:
    """English words of a whole number from 0, British "and"."""
    if number < 10:
        return ONES[number]
    if number < 20:
        return next(word for word, value in TEENS.items() if value == number)
    if number < 100:
        word = next(word for word, value in TENS.items() if value == number - number % 10)
        return f"{word} {ONES[number % 10]}" if number % 10 else word
    if number < 1000:
        rest = f" and {cardinal(number % 100)}" if number % 100 else ""
        return f"{ONES[number // 100]} hundred{rest}"
    for size, scale in SCALES:
        if number >= size:
            over = number % size
            link = " and " if 0 < over < 100 else " "
            return f"{cardinal(number // size)} {scale}" + (link + cardinal(over) if over else "")
    raise AssertionError("every number from 1000 has a scale")


def ordinal(number: int) -> str:
    """English ordinal words."""
    head, _, last = cardinal(number).rpartition(" ")
    if last not in ORDINALS:
        last = f"{last[:-1]}ieth" if last.endswith("y") else f"{last}th"
    else:
        last = ORDINALS[last]
    return f"{head} {last}".strip()


def _said(match: re.Match[str], codes: frozenset[str]) -> str:
    kind = match.lastgroup
    found = match.groupdict()
    if found["standard"]:
        return _standard(found["standard"])
    if found["whole"]:
        several = spoken_units().get(found["of"] or "", ("", ""))[1]
        return f"{cardinal(int(found['whole']))} and {FRACTIONS[found['mixed'] or found['over']]} {several} "
    if found["fraction"]:
        return FRACTIONS[found["fraction"]]
    if found["designation"]:
        return say_designation(found["designation"])
    if found["ordinal"]:
        return ordinal(int(re.sub(r"\D", "", found["ordinal"])))
    if found["number"]:
        return _number(match, codes)
    if found["lone"]:
        return spoken_units()[found["lone"]][1]
    if found["short"]:
        return SHORT[found["short"]]
    assert kind == "symbol"
    return SIGNS[found["symbol"]]


def _standard(name: str) -> str:
    """A standard's number digit by digit, its part after a dash, its year after a pause."""
    issuer, _, number = name.partition(" ")
    said = {"-": "dash", ".": "point", ":": ","}
    return f"{issuer} " + " ".join(said.get(c) or ONES[int(c)] for c in number).replace(" ,", ",")


def _number(match: re.Match[str], codes: frozenset[str]) -> str:
    figure, end, unit = match["number"], match["end"], match["unit"] or ""
    before = match.string[: match.start()]
    if not unit and not end and len(figure) == 3 and (figure in codes or CODE_BEFORE.search(before)):
        return say_code(figure)
    figure = ("-" if match["sign"] else "") + figure
    if end:
        return f"{say_number(figure)} to {say_figure(end, unit)}"
    return say_figure(figure, unit)
