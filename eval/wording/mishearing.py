"""Questions -> as a speech recogniser may hand them over: homophones, near ones, words split and joined, figures in words."""

from __future__ import annotations

import json
import re
from collections import defaultdict
from collections.abc import Collection, Mapping
from pathlib import Path
from random import Random

from assistant.recognition.spoken_forms import LETTER_NAMES
from eval.wording.perturbation import FUNCTION_WORDS, NEGATIONS, Perturbation, is_number, places_of, replaced, some_of
from eval.wording.pronunciation import Phonemes, Sounds, one_edit_keys, sound_distance
from eval.wording.soundalikes import UNITS, spoken_codes, spoken_designation, spoken_number

LEAST_LETTERS = 3
LEAST_HALF = 4
_FIGURE = re.compile(r"\b([A-Z]{1,2})?(\d+)(?:\.(\d+))?\b")
LETTERS = {name: letter for name, letter in LETTER_NAMES.items() if name not in FUNCTION_WORDS} | {
    "you": "u",
    "why": "y",
}
"""Words that a recogniser may write as a letter ("photo I")."""


class Ear:
    """Mishears words for other common ones; the same word is always misheard for one of the same."""

    def __init__(self, sounds: Sounds, common: Collection[str]) -> None:
        """`common` bounds what is heard: a recogniser prefers a frequent word to a rare name that sounds the same.

        Number words are never heard: a question's figures stay what they are.
        """
        self._sounds = sounds
        self._common = frozenset(word for word in common if word in sounds.words and not is_number(word))
        self._said: defaultdict[Phonemes, list[str]] = defaultdict(list)
        self._near: defaultdict[Phonemes, list[str]] = defaultdict(list)
        for word in sorted(self._common):
            for form in sounds.words[word]:
                self._said[form].append(word)
                for key in one_edit_keys(form):
                    self._near[key].append(word)

    def homophones(self, word: str) -> tuple[str, ...]:
        """Other common words with one of its pronunciations, sorted."""
        found = {other for form in self._sounds.words.get(word, ()) for other in self._said[form]}
        return tuple(sorted(found - {word}))

    def near_homophones(self, word: str) -> tuple[str, ...]:
        """The common words nearest to it, at most one sound away and not the same sound, sorted."""
        classes = self._sounds.classes
        same = {word, *self.homophones(word)}
        best: dict[str, float] = {}
        for form in self._sounds.words.get(word, ()):
            for key in one_edit_keys(form):
                for other in self._near.get(key, ()):
                    if other not in same:
                        apart = min(sound_distance(form, o, classes) for o in self._sounds.words[other])
                        best[other] = min(apart, best.get(other, apart))
        least = min(best.values(), default=2.0)
        return tuple(sorted(w for w, apart in best.items() if apart == least and 0.0 < least <= 1.0))

    def same_sound(self, text: str, chance: Random) -> str | None:
        """Some words written as others that sound the same."""
        places = places_of(text, lambda word: _heard(word) and bool(self.homophones(word)))
        return (
            replaced(text, some_of(text, places, chance), lambda w: chance.choice(self.homophones(w.lower())))
            if places
            else None
        )

    def near_sound(self, text: str, chance: Random) -> str | None:
        """Some words written as others that sound nearly the same."""
        places = places_of(text, lambda word: _heard(word) and bool(self.near_homophones(word)))
        return (
            replaced(text, some_of(text, places, chance), lambda w: chance.choice(self.near_homophones(w.lower())))
            if places
            else None
        )

    def halves(self, word: str) -> tuple[str, ...]:
        """A compound as the two common words that it sounds like, or nothing.

        A word that the dictionary lacks is cut into two words of four letters and more.
        """
        said = self._sounds.words.get(word, ())
        least = LEAST_LETTERS if said else LEAST_HALF
        for cut in range(least, len(word) - least + 1):
            parts = word[:cut], word[cut:]
            if (
                parts[1] != "ing"
                and self._common.issuperset(parts)
                and (not said or set(said) & set(self._sounds.phrase(parts)))
            ):
                return parts
        return ()

    def split(self, text: str, chance: Random) -> str | None:
        """Every compound written as two words."""
        places = places_of(text, lambda word: _heard(word) and bool(self.halves(word)))
        return replaced(text, places, lambda word: " ".join(self.halves(word.lower()))) if places else None

    def joined(self, text: str, chance: Random) -> str | None:
        """Two neighbouring content words written as one, where that is a word; else any two."""
        places = places_of(text, _heard)
        pairs = [(a, b) for a, b in zip(places, places[1:], strict=False) if text[a.end() : b.start()] == " "]
        words = [pair for pair in pairs if f"{pair[0].group()}{pair[1].group()}".lower() in self._sounds.words]
        if not pairs:
            return None
        one, other = chance.choice(words or pairs)
        return text[: one.end()] + text[other.start() :]


def word_as_letter(text: str, chance: Random) -> str | None:
    """Every word that sounds like a letter written as that letter ("photo I")."""
    places = places_of(text, LETTERS.__contains__)
    return replaced(text, places, lambda word: LETTERS[word.lower()].upper()) if places else None


def figures_as_words(text: str, chance: Random) -> str | None:
    """Every number and designation as it is said: 204 "two oh four", FC3 "f c three", 3.15 "three point one five"."""
    changed = _FIGURE.sub(lambda m: _said(m, chance), text)
    return " ".join(changed.split()) if changed != text else None


def _said(match: re.Match[str], chance: Random) -> str:
    letters, digits, decimals = match.groups()
    if letters:
        return spoken_designation(letters + digits) if len(digits) <= 2 and not decimals else match.group()
    whole = spoken_number(int(digits)) if len(digits) <= 2 else " ".join(UNITS[int(d)] for d in digits)
    if decimals:
        return f"{whole} point {' '.join(UNITS[int(d)] for d in decimals)}"
    return chance.choice(spoken_codes(digits)) if len(digits) == 3 and digits[0] != "0" else whole


def _heard(word: str) -> bool:
    """Whether it may be misheard: a recogniser gets function words right from what stands around them."""
    return len(word) >= LEAST_LETTERS and word not in NEGATIONS and word not in FUNCTION_WORDS


def common_words(tokenizer: Path) -> frozenset[str]:
    """The whole words of a WordPiece vocabulary: learned from much text, so its whole words are the frequent ones."""
    vocabulary: Mapping[str, int] = json.loads(tokenizer.read_text(encoding="utf-8"))["model"]["vocab"]
    return frozenset(word for word in vocabulary if word.isascii() and word.isalpha() and len(word) > 1)


def spoken_kinds(ear: Ear) -> tuple[Perturbation, ...]:
    """The perturbations of spoken questions."""
    return (
        Perturbation(name="homophone", what="speech", change=ear.same_sound),
        Perturbation(name="near homophone", what="speech", change=ear.near_sound),
        Perturbation(name="compound split", what="speech", change=ear.split),
        Perturbation(name="words joined", what="speech", change=ear.joined),
        Perturbation(name="word as letter", what="speech", change=word_as_letter),
        Perturbation(name="figures as words", what="speech", change=figures_as_words, about_figures=True),
    )
