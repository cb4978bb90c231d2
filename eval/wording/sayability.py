"""Knowledge -> what a speech recogniser will make of it: words that it lacks, names that sound like another entry's.

`python -m eval.wording.sayability` prints the tables. The CMU Pronouncing Dictionary stands in for a recogniser's vocabulary, so
a word that it lacks is likely, not certain, to be missed.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations

from assistant.domain.entries import Code, Component, Entry
from assistant.domain.knowledge import KnowledgeBase
from eval.tables import Table
from eval.wording.pronunciation import Sounds, read_sounds
from eval.wording.soundalikes import (
    Name,
    SoundAlike,
    alike_names,
    alike_words,
    spoken_codes,
    spoken_designation,
    words_said,
)

EXAMPLES = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class Unheard:
    """A word that the vocabulary lacks: how often it is written, in which entries, and as what it may be heard."""

    word: str
    times: int
    entries: tuple[str, ...]
    heard_as: str


def texts_said(entry: Entry) -> tuple[str, ...]:
    """What people may say to ask for an entry: its title, names and phrasings."""
    return (*(name.text for name in names_of(entry)), *entry.phrasings)


def names_of(entry: Entry) -> Iterator[Name]:
    """Title, names, and the designation or code as it is spoken; in that order."""
    owner = str(entry.full_id)
    yield Name(entry=owner, text=entry.title, named=isinstance(entry, (Component, Code)))
    if isinstance(entry, Component):
        for text in (entry.name, *entry.aliases):
            yield Name(entry=owner, text=text, named=True)
        yield Name(entry=owner, text=spoken_designation(entry.id), named=True, spelled=True)
    if isinstance(entry, Code):
        yield Name(entry=owner, text=" ".join(entry.display[1:]).lower(), named=True)
        for text in spoken_codes(entry.id):
            yield Name(entry=owner, text=text, named=True, spelled=True)


def unheard(knowledge: KnowledgeBase, sounds: Sounds) -> tuple[Unheard, ...]:
    """Words of names and phrasings that the vocabulary lacks, in most entries first."""
    times: Counter[str] = Counter()
    owners: defaultdict[str, dict[str, None]] = defaultdict(dict)
    for entry in knowledge.entries():
        for text in texts_said(entry):
            for word in words_said(text):
                times[word] += 1
                owners[word][str(entry.full_id)] = None
    found = [
        Unheard(word=word, times=count, entries=tuple(owners[word]), heard_as=heard_as(word, sounds, times))
        for word, count in times.items()
        if not sounds.known(word)
    ]
    return tuple(sorted(found, key=lambda u: (-len(u.entries), -u.times, u.word)))


def heard_as(word: str, sounds: Sounds, written: Collection[str]) -> str:
    """As what a missing word may be heard, or nothing where that cannot be foreseen.

    Two words for a compound, where both are words of these texts; the word of which it is a form; letters for an
    abbreviation.
    """
    halves = sounds.halves(word)
    if halves and all(half in written for half in halves):
        return " ".join(halves)
    for ending in ("s", "es", "d", "ed", "ing"):
        if word.endswith(ending) and word.removesuffix(ending) in sounds.words:
            return word.removesuffix(ending)
    letters = not any(vowel in word for vowel in "aeiouy")
    return " ".join(word) if letters and word.isalpha() else ""


def unheard_table(found: Sequence[Unheard]) -> Table:
    """A word a row."""
    return Table(
        title="Words that a recogniser may lack",
        note="Not in the CMU Pronouncing Dictionary: give the entry another phrasing without the word, or a lexicon group with what is heard instead.",
        header=("times", "entries", "word", "heard as", "in"),
        rows=tuple(
            (str(u.times), str(len(u.entries)), u.word, u.heard_as or "?", ", ".join(u.entries[:EXAMPLES]))
            for u in found
        ),
    )


def sound_alikes(knowledge: KnowledgeBase, sounds: Sounds) -> tuple[tuple[SoundAlike, ...], tuple[SoundAlike, ...]]:
    """Names that sound alike as a whole, and single words of names that do, most dangerous first."""
    names = [name for entry in knowledge.entries() for name in names_of(entry)]
    return alike_names(names, sounds), alike_words(names, sounds, synonyms_of(knowledge))


def synonyms_of(knowledge: KnowledgeBase) -> frozenset[frozenset[str]]:
    """Pairs of single words that one group of the lexicon holds: taking one for the other does no harm."""
    groups = ([name for name in group if " " not in name] for group in knowledge.lexicon.groups)
    return frozenset(frozenset(pair) for group in groups for pair in combinations(sorted(set(group)), 2))


def names_table(found: Sequence[SoundAlike]) -> Table:
    """Two names a row."""
    return Table(
        title="Names that sound alike",
        note="Whole names, spoken designations and spoken codes of two entries, at most one sound apart; 0 is the same sound, 0.5 a sound for one of its class.",
        header=("sounds apart", "said", "heard", "entry", "other entry"),
        rows=tuple((f"{a.distance:.1f}", a.one, a.other, a.entries[0], a.other_entries[0]) for a in found),
    )


def words_table(found: Sequence[SoundAlike]) -> Table:
    """Two words a row."""
    return Table(
        title="Words that sound like another entry's",
        note="Words of titles and names at most one sound apart, each in entries that the other is not in; share is the distance by the longer word, shared the other words that two names have in common; components and codes first.",
        header=("share", "shared", "said", "heard", "entries", "other entries"),
        rows=tuple(
            (
                f"{a.share:.2f}",
                str(a.shared),
                a.one,
                a.other,
                _some(a.entries),
                _some(a.other_entries),
            )
            for a in found
        ),
    )


def _some(entries: Collection[str]) -> str:
    return ", ".join(list(entries)[:2])


def tables(knowledge: KnowledgeBase) -> tuple[Table, ...]:
    """All findings."""
    sounds = read_sounds()
    names, words = sound_alikes(knowledge, sounds)
    return names_table(names), words_table(words), unheard_table(unheard(knowledge, sounds))
