"""Names of entries -> pairs that a listener or a recogniser may take for each other."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import TypeVar

import jellyfish

from assistant.retrieval.analysis import STOPWORDS, stem
from eval.wording.likeness import may_meet
from eval.wording.pronunciation import Phonemes, Sounds, nearest_distance, one_edit_keys

MOST_APART = 1.0
"""Sounds by which two names may differ to be reported."""
MOST_SHARE = 0.34
"""The same by the longer of two words: one sound of three; shorter words are alike by chance."""
K = TypeVar("K")
UNITS = "zero one two three four five six seven eight nine".split()
TEENS = "ten eleven twelve thirteen fourteen fifteen sixteen seventeen eighteen nineteen".split()
TENS = ["", "", *"twenty thirty forty fifty sixty seventy eighty ninety".split()]


@dataclass(frozen=True, slots=True, kw_only=True)
class Name:
    """A name of an entry; `named` where it is that of a component or code, `spelled` where it is said letter by letter."""

    entry: str
    text: str
    named: bool
    spelled: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class SoundAlike:
    """`one` and `other` sound alike; they stand in names of `entries` and of `other_entries`, none of them in both.

    `distance` in sounds (see `sound_distance`), `share` of the longer one; `named` where both name components or codes;
    `shared` other words that two of the names have in common, by which nothing tells them apart.
    """

    one: str
    other: str
    distance: float
    share: float
    named: bool
    shared: int
    entries: tuple[str, ...]
    other_entries: tuple[str, ...]


def words_said(text: str) -> tuple[str, ...]:
    """The words of a text that are said as words: no figures, no designations; hyphens are kept."""
    found = re.findall(r"[a-z]+(?:'[a-z]+)?(?:-[a-z]+)*", re.sub(r"\b\w*\d\w*\b", " ", text.lower()))
    return tuple(found)


def spoken_designation(designation: str) -> str:
    """A designation as it is said, letters and then the number: FC13 is "f c thirteen"."""
    letters, digits = re.fullmatch(r"([A-Za-z]*)(\d*)", designation).groups()  # type: ignore[union-attr]
    number = [spoken_number(int(digits))] if digits else []
    return " ".join((*letters.lower(), *number))


def spoken_number(number: int) -> str:
    """A number below a hundred."""
    if number < 20:
        return (*UNITS, *TEENS)[number]
    return f"{TENS[number // 10]} {UNITS[number % 10]}" if number % 10 else TENS[number // 10]


def spoken_codes(digits: str) -> tuple[str, ...]:
    """A three-digit code as it is said: figure by figure, as hundreds, as one and a pair."""
    if not re.fullmatch(r"\d{3}", digits):
        return ()
    first, rest = int(digits[0]), int(digits[1:])
    each = " ".join("oh" if d == "0" else UNITS[int(d)] for d in digits)
    hundreds = f"{UNITS[first]} hundred and {spoken_number(rest)}" if rest else f"{UNITS[first]} hundred"
    pair = f"{UNITS[first]} {spoken_number(rest)}" if rest >= 10 else ""
    return tuple(text for text in (each, hundreds, pair) if text)


def alike_names(names: Sequence[Name], sounds: Sounds) -> tuple[SoundAlike, ...]:
    """Whole names of two entries that may meet, at most `MOST_APART`, nearest first; the same text is no finding."""
    said: dict[tuple[str, str], tuple[Name, tuple[Phonemes, ...]]] = {}
    for name in names:
        pronounced = _phrase(name.text, sounds)
        if pronounced:
            said.setdefault((name.entry, " ".join(_spelled(name.text))), (name, pronounced))
    best: dict[tuple[str, str], SoundAlike] = {}
    for one, other in _candidates([(key, forms) for key, (_, forms) in said.items()]):
        if not may_meet(one[0], other[0]) or one[1] == other[1] or _same_stems(one[1].split(), other[1].split()):
            continue
        (name, forms), (other_name, other_forms) = said[one], said[other]
        distance = nearest_distance(forms, other_forms, sounds.classes)
        if distance <= MOST_APART:
            found = _pair(name, other_name, distance, forms, other_forms)
            key = (one[0], other[0])
            if key not in best or _danger(found) < _danger(best[key]):
                best[key] = found
    return tuple(sorted(best.values(), key=_danger))


def _pair(
    name: Name, other: Name, distance: float, forms: Sequence[Phonemes], other_forms: Sequence[Phonemes]
) -> SoundAlike:
    longest = max(len(form) for form in (*forms, *other_forms))
    return SoundAlike(
        one=name.text,
        other=other.text,
        distance=distance,
        share=distance / longest,
        named=name.named and other.named,
        shared=0,
        entries=(name.entry,),
        other_entries=(other.entry,),
    )


def alike_words(
    names: Sequence[Name], sounds: Sounds, synonyms: Collection[frozenset[str]] = frozenset()
) -> tuple[SoundAlike, ...]:
    """Content words of names of different entries that sound alike, most dangerous first.

    Two forms of one word and two words of one lexicon group are left out. A word that the dictionary does not pronounce is
    compared by its metaphone alone and counts as half a sound apart.
    """
    owners: defaultdict[str, list[Name]] = defaultdict(list)
    for name in names:
        if not name.spelled:
            for word in dict.fromkeys(_content(name.text)):
                owners[word].append(name)
    said = [(word, sounds.pronounce(word)) for word in sorted(owners)]
    pairs = {(a, b) for a, b in _candidates(said)} | set(_by_metaphone(said))
    found = []
    for one, other in sorted(pairs):
        if stem(one) == stem(other) or frozenset((one, other)) in synonyms:
            continue
        distance = nearest_distance(sounds.pronounce(one), sounds.pronounce(other), sounds.classes)
        alike = _words(one, other, 0.5 if distance == float("inf") else distance, owners, sounds)
        if alike is not None:
            found.append(alike)
    return tuple(sorted(found, key=_danger))


def _words(
    one: str, other: str, distance: float, owners: Mapping[str, Sequence[Name]], sounds: Sounds
) -> SoundAlike | None:
    forms = (*sounds.pronounce(one), *sounds.pronounce(other))
    share = distance / max((len(form) for form in forms), default=1)
    if distance > MOST_APART or share > MOST_SHARE:
        return None
    both = {n.entry for n in owners[one]} & {n.entry for n in owners[other]}
    met = [
        (not (a.named and b.named), -_shared(a, one, b, other), a.entry, b.entry)
        for a in owners[one]
        for b in owners[other]
        if may_meet(a.entry, b.entry) and not {a.entry, b.entry} & both
    ]
    if not met:
        return None
    met.sort()
    return SoundAlike(
        one=one,
        other=other,
        distance=distance,
        share=share,
        named=not met[0][0],
        shared=-met[0][1],
        entries=tuple(dict.fromkeys(a for _, _, a, _ in met)),
        other_entries=tuple(dict.fromkeys(b for _, _, _, b in met)),
    )


def _shared(name: Name, word: str, other_name: Name, other: str) -> int:
    stems = {stem(w) for w in _content(name.text) if w != word}
    return len(stems & {stem(w) for w in _content(other_name.text) if w != other})


def _danger(alike: SoundAlike) -> tuple[bool, bool, float, float, str, str]:
    return not alike.named, not alike.shared, round(alike.share, 3), alike.distance, alike.one, alike.other


def _content(text: str) -> Iterator[str]:
    for word in words_said(text):
        for part in word.removesuffix("'s").split("-"):
            if part not in STOPWORDS and len(part) > 2:
                yield part


def _spelled(text: str) -> list[str]:
    return re.findall(r"[a-z']+|\d+", text.lower())


def _phrase(text: str, sounds: Sounds) -> tuple[Phonemes, ...]:
    words = _spelled(text)
    if not words or any(word.isdecimal() for word in words):
        return ()
    forms: tuple[Phonemes, ...] = ((),)
    for word in words:
        forms = tuple(before + form for before in forms for form in sounds.pronounce(word)[:2])
    return forms[:4]


def _same_stems(one: Iterable[str], other: Iterable[str]) -> bool:
    return [stem(word) for word in one] == [stem(word) for word in other]


def _candidates(said: Iterable[tuple[K, Sequence[Phonemes]]]) -> set[tuple[K, K]]:
    """Pairs that share a sequence with at most one sound left out."""
    meeting: defaultdict[Phonemes, list[K]] = defaultdict(list)
    for key, forms in said:
        for shortened in dict.fromkeys(k for form in forms for k in one_edit_keys(form)):
            meeting[shortened].append(key)
    return {pair for keys in meeting.values() for pair in combinations(keys, 2)}


def _by_metaphone(said: Iterable[tuple[str, Sequence[Phonemes]]]) -> Iterator[tuple[str, str]]:
    meeting: defaultdict[str, list[tuple[str, bool]]] = defaultdict(list)
    for word, forms in said:
        meeting[jellyfish.metaphone(word)].append((word, bool(forms)))
    for code, words in meeting.items():
        if len(code) >= 3:
            for (one, known), (other, also) in combinations(words, 2):
                if not (known and also):
                    yield one, other
