"""Likelihood words of authored checks -> numbers, one column a cause."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from assistant.domain.entries import Check

WORDS: Mapping[str, float] = {"always": 0.98, "usually": 0.85, "sometimes": 0.4, "rarely": 0.1, "never": 0.02}
"""Never 0 and 1: an answer must stay revocable. The five were measured against knowing the true cells: about 2 % dearer."""
LEAST, MOST = 0.005, 0.995
"""Bounds of a cell after a column was made to sum to one."""
SUM_FROM, SUM_TO = 0.8, 1.2
"""A column outside of this before it is made to sum to one is a slip of the author."""
TELLING = 1.5
"""An outcome speaks for a cause when it is this many times as likely under it as without regard to it."""


def number(word: str | float) -> float:
    """The number of a likelihood word, or the number itself.

    Raises:
        KeyError: no such word.

    """
    return WORDS[word] if isinstance(word, str) else float(word)


def raw_column(check: Check, cause: str) -> tuple[float, ...]:
    """How likely each outcome is under a cause as authored; the normal outcome takes what the others leave."""
    said = [None if o.normal else number(o.likely.get(cause, check.default)) for o in check.outcomes]
    rest = max(0.0, 1.0 - sum(value for value in said if value is not None))
    return tuple(rest if value is None else value for value in said)


def column(check: Check, cause: str) -> tuple[float, ...]:
    """The same, summing to one, no cell beyond LEAST and MOST before the last scaling."""
    raw = raw_column(check, cause)
    bounded = [min(MOST, max(LEAST, value / sum(raw))) for value in raw]
    return tuple(value / sum(bounded) for value in bounded)


def table(check: Check, causes: Sequence[str]) -> tuple[tuple[float, ...], ...]:
    """Rows outcomes, columns causes."""
    columns = [column(check, cause) for cause in causes]
    return tuple(zip(*columns, strict=True))


def logit(chance: float) -> float:
    """Logarithm of the odds of a chance, kept finite at 0 and 1."""
    bounded = min(1.0 - 1e-6, max(1e-6, chance))
    return math.log(bounded / (1.0 - bounded))
