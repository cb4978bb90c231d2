"""A run and the knowledge -> what the page shows of each question, each entry and each set."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from assistant.domain.knowledge import KnowledgeBase
from eval.observation import Observed
from eval.report.confusion import Pair
from eval.report.verdicts import Verdict, rank_of, told_of, verdict, wanted_of, winner_of
from eval.runs import Run

TOP = 3
"""Hits shown in a row; the details show more."""


@dataclass(frozen=True, slots=True, kw_only=True)
class QuestionView:
    """A row of the table of questions; `place` in the run's order, `hits` the ids of the first three."""

    place: int
    question: str
    set: str
    group: str
    wanted_outcome: str
    outcome: str
    verdict: Verdict
    faults: tuple[str, ...]
    hits: tuple[str, ...]
    elapsed_ms: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """A question from the side of an entry: its rank there (0: not among the hits) and who won it."""

    place: int
    question: str
    rank: int
    won: bool
    winner: str
    outcome: str


@dataclass(frozen=True, slots=True, kw_only=True)
class EntryView:
    """An entry: who asks for it, who takes its questions (with how many), which questions it takes."""

    id: str
    title: str
    phrasings: int
    asked: tuple[Asked, ...]
    thieves: tuple[tuple[str, int], ...]
    steals: tuple[Asked, ...]

    @property
    def won(self) -> int:
        """Questions that want it and were given it first."""
        return sum(item.won for item in self.asked)


@dataclass(frozen=True, slots=True, kw_only=True)
class SetView:
    """How many questions of a set went how."""

    name: str
    questions: int
    right: int
    nearly: int
    wrong: int


def set_views(run: Run) -> tuple[SetView, ...]:
    """One a set, in the order of their names."""
    views = []
    for name in sorted(run.sets):
        counts = Counter(verdict(item) for item in run.sets[name])
        views.append(
            SetView(
                name=name,
                questions=len(run.sets[name]),
                right=counts[Verdict.RIGHT],
                nearly=counts[Verdict.NEARLY],
                wrong=counts[Verdict.WRONG],
            )
        )
    return tuple(views)


def question_views(run: Run) -> tuple[QuestionView, ...]:
    """All questions: wrong ones first, then nearly right ones, each in the order of the run."""
    names = [name for name in sorted(run.sets) for _ in run.sets[name]]
    views = [_question(place, name, item) for place, (name, item) in enumerate(zip(names, run.all, strict=True))]
    order = list(Verdict)
    return tuple(sorted(views, key=lambda v: (order.index(v.verdict), v.place)))


def _question(place: int, name: str, item: Observed) -> QuestionView:
    return QuestionView(
        place=place,
        question=item.case.q,
        set=name,
        group=item.case.group,
        wanted_outcome=item.case.outcome,
        outcome=item.outcome,
        verdict=verdict(item),
        faults=told_of(item),
        hits=item.ranking[:TOP],
        elapsed_ms=item.elapsed_ms,
    )


def entry_views(seen: Sequence[Observed], knowledge: KnowledgeBase, pairs: Sequence[Pair]) -> tuple[EntryView, ...]:
    """All entries of the knowledge, those that lose most questions first; then by id."""
    asked: dict[str, list[Asked]] = {}
    for place, item in enumerate(seen):
        for entry in wanted_of(item):
            asked.setdefault(entry, []).append(_asked(place, item, entry))
    thieves: dict[str, Counter[str]] = {}
    steals: dict[str, list[Asked]] = {}
    for pair in pairs:
        thieves.setdefault(pair.wanted, Counter())[pair.winner] += pair.times
        steals.setdefault(pair.winner, []).extend(_asked(p, seen[p], pair.wanted) for p in pair.questions)
    views = [
        EntryView(
            id=str(entry.full_id),
            title=entry.title,
            phrasings=len(entry.phrasings),
            asked=tuple(asked.get(str(entry.full_id), ())),
            thieves=_ordered(thieves.get(str(entry.full_id), {})),
            steals=tuple(sorted(steals.get(str(entry.full_id), ()), key=lambda a: a.place)),
        )
        for entry in knowledge.entries()
    ]
    return tuple(sorted(views, key=lambda v: (v.won - len(v.asked), -len(v.steals), v.id)))


def _ordered(counts: Mapping[str, int]) -> tuple[tuple[str, int], ...]:
    return tuple(sorted(counts.items(), key=lambda pair: (-pair[1], pair[0])))


def _asked(place: int, item: Observed, entry: str) -> Asked:
    winner = winner_of(item)
    won = winner in wanted_of(item)
    rank = rank_of(item, entry)
    return Asked(place=place, question=item.case.q, rank=rank, won=won, winner=winner, outcome=item.outcome)
