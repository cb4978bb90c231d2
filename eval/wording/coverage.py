"""A run and the knowledge -> whether people will find what was written: unasked, unfound and confused entries.

`python -m eval.wording.coverage` prints these with the findings of likeness, loose ends and reading.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

from assistant.assembly import Options, built_index, make_encoder, shelf_of
from assistant.corpus.draftbook import read_draftbook
from assistant.corpus.lint import UNASKED
from assistant.domain.entries import Entry
from assistant.domain.knowledge import KnowledgeBase
from assistant.settings import Settings
from eval.observation import Observed
from eval.progress import say
from eval.quality import findable
from eval.reading import levels_of, long_sentence_table, reading_table
from eval.runs import Run
from eval.tables import Table
from eval.wording.likeness import alike_table, likeness_table, spoken_phrasings, too_alike
from eval.wording.loose_ends import unisolated, unisolated_table, unused_table, unused_values

FOUND_WITHIN = 3
"""Hits that people look at."""
SELDOM = 0.5
EXAMPLES = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class Unfound:
    """An entry that few of the questions that want it found; for each that missed it the question and what came first."""

    entry: str
    asked: int
    questions: tuple[str, ...]
    instead: tuple[str, ...]

    @property
    def found(self) -> int:
        """Questions that found it."""
        return self.asked - len(self.questions)


@dataclass(frozen=True, slots=True, kw_only=True)
class Confusion:
    """How often `instead` came first when `wanted` was asked for; `(refused)` where there was no hit."""

    wanted: str
    instead: str
    questions: tuple[str, ...]


def unasked(knowledge: KnowledgeBase, seen: Sequence[Observed]) -> tuple[tuple[Entry, int], ...]:
    """Entries that no case asks for, with the cases in which they are useful beside; by id.

    A refusal is asked for by a case that it must refuse. Signals and parts without phrasings are found through others.
    """
    asked = {entry for o in seen for entry in (*o.case.wanted, o.case.refusal)}
    beside = Counter(entry for o in seen for entry in o.case.relevant if entry not in o.case.wanted)
    entries = [e for e in knowledge.entries() if e.phrasings or e.kind not in UNASKED]
    return tuple((e, beside[str(e.full_id)]) for e in entries if str(e.full_id) not in asked)


def unfound(seen: Sequence[Observed], most: float = 0.0) -> tuple[Unfound, ...]:
    """Entries among the first three of at most that share of the questions that want them, worst first."""
    asked: Counter[str] = Counter()
    missed: defaultdict[str, list[Observed]] = defaultdict(list)
    for item in findable(seen):
        for wanted in sorted(item.case.wanted):
            asked[wanted] += 1
            if wanted not in item.ranking[:FOUND_WITHIN]:
                missed[wanted].append(item)
    entries = [
        Unfound(entry=e, asked=asked[e], questions=tuple(o.case.q for o in some), instead=tuple(map(_first, some)))
        for e, some in missed.items()
    ]
    found = [u for u in entries if u.found <= most * u.asked]
    return tuple(sorted(found, key=lambda u: (u.found / u.asked, -u.asked, u.entry)))


def confusions(seen: Sequence[Observed]) -> tuple[Confusion, ...]:
    """Pairs of a wanted entry and the unwanted one that came first, most frequent first.

    Where several entries would answer, the one nearest to the top is taken for the wanted one.
    """
    found: defaultdict[tuple[str, str], list[str]] = defaultdict(list)
    for item in findable(seen):
        first = _first(item)
        if first in item.case.wanted:
            continue
        ranking = item.ranking
        wanted = min(item.case.wanted, key=lambda e: (ranking.index(e) if e in ranking else len(ranking), e))
        found[wanted, first].append(item.case.q)
    pairs = [Confusion(wanted=w, instead=i, questions=tuple(q)) for (w, i), q in found.items()]
    return tuple(sorted(pairs, key=lambda c: (-len(c.questions), c.wanted, c.instead)))


def _first(item: Observed) -> str:
    return item.ranking[0] if item.ranking else f"({item.outcome})"


def unasked_table(knowledge: KnowledgeBase, seen: Sequence[Observed]) -> Table:
    """An entry a row."""
    rows = [(str(e.full_id), str(beside), e.title) for e, beside in unasked(knowledge, seen)]
    return Table(
        title="Entries that no case asks for",
        note="Nothing shows whether they are found; the second column counts cases in which they are useful beside.",
        header=("entry", "beside", "title"),
        rows=tuple(rows),
    )


def unfound_table(seen: Sequence[Observed]) -> Table:
    """An entry a row, with a question that should have found it."""
    return Table(
        title="Entries never or seldom found",
        note=f"Among the first {FOUND_WITHIN} of at most half of the questions that want them (another wanted entry may have been).",
        header=("found", "asked", "entry", "came first", "question that missed it"),
        rows=tuple((str(u.found), str(u.asked), u.entry, u.instead[0], u.questions[0]) for u in unfound(seen, SELDOM)),
    )


def confusion_table(seen: Sequence[Observed]) -> Table:
    """A pair a row, with examples."""
    return Table(
        title="Confusions",
        note="The wanted entry, the one that came first instead, how often, and what was asked.",
        header=("times", "wanted", "came first", "questions"),
        rows=tuple(
            (str(len(c.questions)), c.wanted, c.instead, " / ".join(c.questions[:EXAMPLES])) for c in confusions(seen)
        ),
    )


def tables(done: Run, settings: Settings) -> tuple[Table, ...]:
    """All findings for an author, in the order in which they are worth mending.

    Raises:
        KnowledgeError: the knowledge has faults.
        ModelError: the encoder is missing; it names the index whose vectors are read.

    """
    built = built_index(settings, make_encoder(shelf_of(settings)), Options(), say)
    passages, vectors = spoken_phrasings(built)
    book = read_draftbook(settings.knowledge)
    levels = levels_of(built.knowledge)
    return (
        unisolated_table(unisolated(book)),
        unfound_table(done.all),
        confusion_table(done.all),
        alike_table(too_alike(passages, vectors)),
        unasked_table(built.knowledge, done.all),
        unused_table(unused_values(book)),
        long_sentence_table(levels),
        reading_table(levels),
        likeness_table(passages, vectors, done.all),
    )
