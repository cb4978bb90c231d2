"""The rules of a sentence: one sentence, its length, its end, and no figure that is not a reference.

Limits after ASD-STE100 (issue 9, rules of sections 5 and 6): 20 words in an instruction, 25 in a description; a
hyphenated word and a number count as one word (section 8, from memory).
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, fields, is_dataclass
from typing import Any

from assistant.corpus.figures import REFERENCE
from assistant.domain.terms import Value

INSTRUCTION_WORDS = 20
SENTENCE_WORDS = 25
INSTRUCTIONS = frozenset({"do", "first", "remedy", "safe_way"})
PROSE = INSTRUCTIONS | frozenset(
    "location function condition danger on_means off_means see_at meaning raised_when clears_when sign symptom good bad"
    " purpose who before expect if_not answer details limit reason what text afterwards distance ask".split()
)
"""Fields that hold sentences; everything else is a name, a list of names or a value."""

CODES_NAMED = re.compile(r"\b[Cc]odes? (\d{3}(?:(?:, | and | or | to |/)(?:code )?\d{3})*)")
DESIGNATION = re.compile(r"\b((?!A[IO]\d|IP\d)[A-Z]{2}\d{1,2})\b")
TERMINAL = re.compile(r"\b(XD\d:(?:\d+|PE))\b")
WIRE = re.compile(r"\b[Ww]ires? (\d{1,3}(?:(?:, | and | to )\d{1,3})*)")
SIGNAL_NAME = re.compile(r"\b([IQ]\d{1,2})\b")
_ALLOWED = (
    REFERENCE,
    CODES_NAMED,
    TERMINAL,
    WIRE,
    DESIGNATION,
    SIGNAL_NAME,
    re.compile(
        r"\b(?:IEC|ISO|EN|NFPA|ANSI|ASTM|NEC|CFR|DIN|NAMUR|ASD|IEEE|UL)(?:/[A-Z]+)?[ -]?[A-Z]{0,3} ?\d[\dA-Z.:/-]*(?: part \d+)?"
    ),
    re.compile(r"\b(?:A[IO]\d|M\d{1,2}|IP\d[\dX]K?|RS-485|[A-Z]{1,2}\d|\d{2}[AB](?:-\d)?|L\d|T\d|PT\d+|Pt\d+)\b"),
)
_ENDS = re.compile(r"[.?!]$")
_INNER_END = re.compile(r"[.?!] +[A-Z{]")
_ABBREVIATION = re.compile(r"\b(?:e\.g|i\.e|approx|max|min|no)\.", re.IGNORECASE)


@dataclass(frozen=True, slots=True, kw_only=True)
class Placed:
    """A sentence, the field it stands in and its path inside the entry."""

    text: str
    field: str
    where: tuple[str | int, ...]


def sentences_of(item: Any, where: tuple[str | int, ...] = ()) -> Iterator[Placed]:
    """Every sentence of an authored thing, nested ones included, with its path."""
    for f in fields(item):
        content = getattr(item, f.name)
        if f.name in PROSE:
            if isinstance(content, str):
                yield Placed(text=content, field=f.name, where=(*where, f.name))
            elif isinstance(content, tuple):
                for i, text in enumerate(content):
                    if isinstance(text, str):
                        yield Placed(text=text, field=f.name, where=(*where, f.name, i))
        elif isinstance(content, tuple):
            for i, part in enumerate(content):
                if is_dataclass(part) and not isinstance(part, Value):
                    yield from sentences_of(part, (*where, f.name, i))
        elif is_dataclass(content) and not isinstance(content, Value):
            yield from sentences_of(content, (*where, f.name))


def count_words(text: str) -> int:
    """Words of a sentence; a reference, a number, a designation or a hyphenated word is one."""
    return len([word for word in REFERENCE.sub("value", text).split() if re.search(r"\w", word)])


def stray_figures(text: str) -> tuple[str, ...]:
    """Words with a digit that are neither a reference nor one of the allowed names."""
    rest = text
    for pattern in _ALLOWED:
        rest = pattern.sub(" ", rest)
    return tuple(word for word in rest.split() if any(c.isdigit() for c in word))


def faults_of_sentence(placed: Placed) -> Iterator[tuple[str, str]]:
    """(message, hint) for each rule that the sentence breaks."""
    text = placed.text
    shown = text if len(text) < 60 else text[:57] + "..."
    if not _ENDS.search(text):
        yield f"`{placed.field}`: no full stop at the end: {shown}", "one sentence an item, with a full stop"
    if _INNER_END.search(_ABBREVIATION.sub("", text)):
        yield f"`{placed.field}`: more than one sentence: {shown}", "one sentence an item of the list"
    if ";" in text:
        yield f"`{placed.field}`: a semicolon: {shown}", "write two sentences"
    limit = INSTRUCTION_WORDS if placed.field in INSTRUCTIONS else SENTENCE_WORDS
    words = count_words(text)
    if words > limit:
        yield f"`{placed.field}`: {words} words, at most {limit}: {shown}", "cut it in two"
    for figure in stray_figures(text):
        yield (
            f"`{placed.field}`: the figure `{figure}` is not a reference: {shown}",
            "write it in `values:` and refer to it",
        )
