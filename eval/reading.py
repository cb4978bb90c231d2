"""Sentences of an entry -> how hard they are to read, and how near they come to the longest that is allowed."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from assistant.corpus.prose import INSTRUCTION_WORDS, INSTRUCTIONS, SENTENCE_WORDS, count_words, sentences_of
from assistant.domain.entries import Entry, Part
from assistant.domain.knowledge import KnowledgeBase
from eval.tables import Table
from eval.wording.pronunciation import Sounds, read_sounds


@dataclass(frozen=True, slots=True, kw_only=True)
class Level:
    """`grade` of Flesch and Kincaid; means a sentence and a word; the sentence nearest to its limit in words."""

    entry: str
    grade: float
    sentences: int
    words_a_sentence: float
    syllables_a_word: float
    longest: str
    longest_words: int
    limit: int


def grade_of(words: int, sentences: int, syllables: int) -> float:
    """The grade level: 0.39 words/sentence + 11.8 syllables/word - 15.59 (Kincaid, Fishburne, Rogers and Chissom 1975)."""
    return 0.39 * words / sentences + 11.8 * syllables / words - 15.59


def words_of_prose(text: str) -> list[str]:
    """Words as the formula counts them: between spaces, a hyphenated word one."""
    return [word.strip("\"'.,:;?!()") for word in text.split() if re.search(r"\w", word)]


def syllables_of(text: str, sounds: Sounds) -> int:
    """Syllables of all its words, as the dictionary says them."""
    parts = (part for word in words_of_prose(text) for part in word.split("-") if part)
    return sum(sounds.syllables(part) for part in parts)


def level_of(entry: Entry, sounds: Sounds) -> Level | None:
    """The level of everything that the entry tells, its figures printed; None where it tells nothing."""
    placed = list(sentences_of(entry)) if not isinstance(entry, Part) else []
    texts = [p for p in placed if words_of_prose(p.text)]
    if not texts:
        return None
    words = sum(len(words_of_prose(p.text)) for p in texts)
    syllables = sum(syllables_of(p.text, sounds) for p in texts)
    limits = [(INSTRUCTION_WORDS if p.field in INSTRUCTIONS else SENTENCE_WORDS, p.text) for p in texts]
    limit, longest = max(limits, key=lambda pair: (count_words(pair[1]) - pair[0], pair[1]))
    return Level(
        entry=str(entry.full_id),
        grade=grade_of(words, len(texts), syllables),
        sentences=len(texts),
        words_a_sentence=words / len(texts),
        syllables_a_word=syllables / words,
        longest=longest,
        longest_words=count_words(longest),
        limit=limit,
    )


def levels_of(knowledge: KnowledgeBase) -> tuple[Level, ...]:
    """Every entry that has sentences, hardest first."""
    sounds = read_sounds()
    found = [level for entry in knowledge.entries() if (level := level_of(entry, sounds)) is not None]
    return tuple(sorted(found, key=lambda level: (-level.grade, level.entry)))


def reading_table(levels: Sequence[Level]) -> Table:
    """Every entry, hardest first."""
    grades = sorted(level.grade for level in levels)
    middle = grades[len(grades) // 2] if grades else 0.0
    return Table(
        title="Reading level",
        note=f"Flesch-Kincaid grade of all sentences of an entry, hardest first; half of the entries are below {middle:.1f}.",
        header=("grade", "words/sentence", "syllables/word", "sentences", "entry"),
        rows=tuple(
            (f"{x.grade:.1f}", f"{x.words_a_sentence:.1f}", f"{x.syllables_a_word:.2f}", str(x.sentences), x.entry)
            for x in levels
        ),
    )


def long_sentence_table(levels: Sequence[Level]) -> Table:
    """The longest sentence of each entry where it has no more than one word left."""
    near = sorted(
        (x for x in levels if x.longest_words >= x.limit - 1), key=lambda x: (x.limit - x.longest_words, x.entry)
    )
    return Table(
        title="Sentences at their limit",
        note="Printed with its figures; the limit is 20 words in an instruction and 25 elsewhere, a figure counted as it prints.",
        header=("words", "limit", "entry", "sentence"),
        rows=tuple((str(x.longest_words), str(x.limit), x.entry, x.longest) for x in near),
    )
