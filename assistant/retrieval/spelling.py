"""Text as typed -> text in plain spelling, dialect and slips of the finger mended, for the search and for wishes; never what is shown.

Gloves hit the neighbouring key. A word that neither the knowledge nor a dictionary of English has, but that is one slip away
from a word of the knowledge (two in a long word), is read as that word. A real word is never changed, nor anything with a
digit in it: codes, figures and designations are asked again, not guessed. Words written as they are spoken ("hauf wey roon")
are put plainly first (dialect.yaml).
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Iterable, Mapping
from functools import cached_property, lru_cache
from importlib.resources import files
from pathlib import Path

import yaml
from symspellpy import SymSpell, Verbosity

from assistant.retrieval.analysis import stem

LEAST_LETTERS = 4
"""Shorter words are a slip away from too many others."""
LONG = 8
"""From this length on two slips are allowed."""
DICTIONARY = "frequency_dictionary_en_82_765.txt"
"""Carried by the package: a word and its count a line."""
DIALECT = Path(__file__).with_name("dialect.yaml")
_WORD = re.compile(r"(?<![A-Za-z0-9'])[A-Za-z]{4,}(?![A-Za-z0-9']|-?\d)")
_SPOKEN = re.compile(r"(?<![A-Za-z0-9'/-])[A-Za-z]+(?![A-Za-z0-9'/-]| ?\d)")
_LETTERS = re.compile(r"[a-z]+")


@lru_cache(maxsize=1)
def english() -> frozenset[str]:
    """The words of the dictionary, lower case."""
    text = (files("symspellpy") / DICTIONARY).read_text(encoding="utf-8-sig")
    return frozenset(line.split(" ", 1)[0] for line in text.splitlines())


@lru_cache(maxsize=1)
def dialect() -> Mapping[str, str]:
    """Words as they are spoken or cut short, and their plain form."""
    found = yaml.load(DIALECT.read_text(encoding="utf-8"), Loader=yaml.CBaseLoader)  # "no" and "off" are words here
    return {str(word): str(plain) for word, plain in found.items()}


class Spelling:
    """Mends against the words of the knowledge; they are read, and the dictionary with them, when first asked."""

    def __init__(self, texts: Callable[[], Iterable[str]]) -> None:
        """`texts`: all that the knowledge says and is asked by."""
        self._texts = texts
        self._mended: dict[str, str] = {}

    def mend(self, text: str) -> str:
        """The text with every slip mended; the same text when there is none."""
        plain = _SPOKEN.sub(lambda found: self._plain(found[0]), text)
        return _WORD.sub(lambda found: self._word(found[0]), plain)

    def _plain(self, spoken: str) -> str:
        word = spoken.lower()
        return spoken if word in self._counts else dialect().get(word, spoken)

    @cached_property
    def _counts(self) -> Counter[str]:
        return Counter(word for text in self._texts() for word in _LETTERS.findall(text.lower()))

    @cached_property
    def _stems(self) -> frozenset[str]:
        return frozenset(stem(word) for word in self._counts)

    @cached_property
    def _near(self) -> SymSpell:
        near = SymSpell(max_dictionary_edit_distance=2)
        for word, count in sorted(self._counts.items()):
            if len(word) >= LEAST_LETTERS and word in english():
                near.create_dictionary_entry(word, count)
        return near

    def _word(self, typed: str) -> str:
        word = typed.lower()
        if word not in self._mended:
            known = word in self._counts or word in english() or stem(word) in self._stems
            self._mended[word] = word if known else self._nearest(word) or self._parted(word) or word
        return typed if self._mended[word] == word else self._mended[word]

    def _nearest(self, word: str) -> str:
        most = 2 if len(word) >= LONG else 1
        found = self._near.lookup(word, Verbosity.CLOSEST, max_edit_distance=most)
        fit = [f for f in found if f.term[0] == word[0] or (f.distance == 1 and len(word) > LEAST_LETTERS)]
        return str(min(fit, key=lambda f: (f.distance, -f.count, f.term)).term) if fit else ""

    def _parted(self, word: str) -> str:
        """Two words of the knowledge that were run together."""
        for cut in range(3, len(word) - 2):
            if all(self._counts[part] > 1 and part in english() for part in (word[:cut], word[cut:])):
                return f"{word[:cut]} {word[cut:]}"
        return ""
