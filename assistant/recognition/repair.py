"""What was heard -> readings of it that the knowledge makes likely, added to what is searched for and to nothing else.

A word that the knowledge does not know, but that sounds like one or two that it does, adds those words. Codes, figures and
designations are never repaired: they are read back, and asked again.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Iterable

from assistant.recognition.numbers import DIGITS, TEENS, TENS
from assistant.recognition.sounds_like import sound_of

LEAST_LIKENESS = 0.80
"""Likeness of spelling (Jaro-Winkler) that a word of the same sound still needs."""
CLOSE_LIKENESS = 0.90
"""Likeness of spelling, and of sound, that make up for a sound that is not quite the same."""
LEAST_LETTERS = 4
"""Shorter words sound like too many others."""
MOST_ADDED = 2
"""Words added for one that was heard."""
NUMBER_WORDS = frozenset({*DIGITS, *TEENS, *TENS, "hundred", "thousand", "point", "double"})
_WORD = re.compile(r"[a-z]+(?:'[a-z]+)?")


class Vocabulary:
    """The words of the knowledge, by their sound."""

    def __init__(self, texts: Iterable[str]) -> None:
        """Read every text once."""
        self.words = frozenset(word for text in texts for word in _WORD.findall(text.lower()))
        self._sounds = sorted((word, sound_of(word)) for word in self.words if len(word) >= LEAST_LETTERS)

    def like(self, heard: str) -> tuple[str, ...]:
        """Known words that sound like what was heard, most like first, then by the alphabet; MOST_ADDED at most."""
        from jellyfish import jaro_winkler_similarity

        sound = sound_of(heard)
        found = []
        for word, its_sound in self._sounds:
            spelt = jaro_winkler_similarity(heard, word)
            alike = 1.0 if sound == its_sound else jaro_winkler_similarity(sound, its_sound)
            if (alike == 1.0 and spelt >= LEAST_LIKENESS) or min(spelt, alike) >= CLOSE_LIKENESS:
                found.append((-(spelt + alike), word))
        return tuple(word for _, word in sorted(found)[:MOST_ADDED])


def added_readings(text: str, vocabulary: Vocabulary, known: Collection[str] = ()) -> str:
    """The known words that unknown words of the text, or two neighbours run together, may have been; "" for none.

    `known`: further words that are not to be repaired (names that the search knows). The order is that of the text.
    """
    words = _WORD.findall(text.lower())
    added: dict[str, None] = {}
    for place, word in enumerate(words):
        pair = word + words[place + 1] if place + 1 < len(words) else ""
        if pair in vocabulary.words and pair not in words and len(pair) > LEAST_LETTERS:
            added.setdefault(pair)
        if len(word) < LEAST_LETTERS or word in vocabulary.words or word in known or word in NUMBER_WORDS:
            continue
        added.update(dict.fromkeys(w for w in vocabulary.like(word) if w not in words and w not in NUMBER_WORDS))
    return " ".join(added)


class Repair:
    """Text that was heard -> added readings; the vocabulary is read at the first one."""

    def __init__(self, texts: Callable[[], Iterable[str]]) -> None:
        """`texts`: the texts of the knowledge."""
        self._texts = texts
        self._vocabulary: Vocabulary | None = None

    def __call__(self, text: str) -> str:
        """The words to add to what is searched for, "" for none."""
        if self._vocabulary is None:
            self._vocabulary = Vocabulary(self._texts())
        return added_readings(text, self._vocabulary)
