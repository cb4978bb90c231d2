"""Authored sentences -> a GBNF grammar whose only sentences they are, and the text decoded under it -> sentences."""

from __future__ import annotations

from collections.abc import Sequence

from assistant.domain.search import Sentence

LETTERS = "ABCDEFGHIJKLMNOP"
"""One letter a sentence: the passage id that stands before its text."""


def letter_of(place: int) -> str:
    """The letter of the sentence at that place."""
    return LETTERS[place]


def grammar_of(sentences: Sequence[Sentence], most: int) -> str:
    """One to `most` lines, each a letter and the sentence of that letter, verbatim; nothing else can be produced."""
    rules = [f'line{i} ::= "{letter_of(i)}: {_quoted(s.text)}\\n"' for i, s in enumerate(sentences)]
    choice = " | ".join(f"line{i}" for i in range(len(sentences)))
    more = " line?" * (most - 1)
    return "\n".join([f"root ::= line{more}", f"line ::= {choice}", *rules])


def parse_choice(text: str, sentences: Sequence[Sentence]) -> tuple[Sentence, ...]:
    """The sentences chosen, in order, without repeats; an unfinished last line counts by its letter only if whole."""
    chosen: dict[int, Sentence] = {}
    for line in text.split("\n"):
        for i, sentence in enumerate(sentences):
            if line == f"{letter_of(i)}: {sentence.text}":
                chosen.setdefault(i, sentence)
    return tuple(chosen.values())


def _quoted(text: str) -> str:
    return text.replace("\\", "\\\\").replace('"', '\\"').replace("\n", " ")
