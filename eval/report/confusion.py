"""Observations -> which entries take the questions of which others."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from eval.observation import Observed
from eval.report.verdicts import rank_of, wanted_of, winner_of

OUTSIDE = ""
"""Stands for the wanted entry of a question that nothing authored answers."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Pair:
    """`winner` was put in front where `wanted` should have been; `questions` are places in the run's order."""

    wanted: str
    winner: str
    questions: tuple[int, ...]

    @property
    def times(self) -> int:
        """How often."""
        return len(self.questions)


def pair_of(item: Observed) -> tuple[str, str] | None:
    """(wanted, winner) of a question that another entry took; of several wanted, the one that came nearest."""
    wanted, winner = wanted_of(item), winner_of(item)
    if not winner or winner in wanted or item.case.outcome == "which_machine":
        return None
    if not wanted:
        return (OUTSIDE, winner) if item.case.outcome == "not_covered" else None
    return min(wanted, key=lambda entry: (rank_of(item, entry) or 99, entry)), winner


def confusions(seen: Sequence[Observed]) -> tuple[Pair, ...]:
    """All pairs, most frequent first, then by their names."""
    found: dict[tuple[str, str], list[int]] = {}
    for place, item in enumerate(seen):
        pair = pair_of(item)
        if pair is not None:
            found.setdefault(pair, []).append(place)
    pairs = [Pair(wanted=w, winner=v, questions=tuple(places)) for (w, v), places in found.items()]
    return tuple(sorted(pairs, key=lambda p: (-p.times, p.wanted, p.winner)))


@dataclass(frozen=True, slots=True, kw_only=True)
class Matrix:
    """Counts of wanted entry (row) x winner (column), for the entries of the most frequent pairs."""

    rows: tuple[str, ...]
    columns: tuple[str, ...]
    counts: tuple[tuple[int, ...], ...]


def matrix(pairs: Sequence[Pair], most: int) -> Matrix:
    """The matrix of the `most` first pairs' entries; a winner's columns stand near the rows it takes from."""
    rows = tuple(dict.fromkeys(p.wanted for p in pairs[:most]))
    columns = tuple(dict.fromkeys(p.winner for row in rows for p in pairs[:most] if p.wanted == row))
    times = {(p.wanted, p.winner): p.times for p in pairs}
    return Matrix(rows=rows, columns=columns, counts=tuple(tuple(times.get((r, c), 0) for c in columns) for r in rows))
