"""A visit prepared: what is likely, what to bring, who must be there, how long it takes, what to ask the caller."""

from __future__ import annotations

from dataclasses import dataclass

from assistant.domain.terms import EntryId


@dataclass(frozen=True, slots=True, kw_only=True)
class LikelyCause:
    """A cause of one of the faults, by its authored name, with its chance over all of them."""

    fault: EntryId
    name: str
    chance: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Carried:
    """A part or tool by its printed name; `finish_lost` of the chance to finish in one visit that it decides."""

    name: str
    finish_lost: float
    wanted: float


@dataclass(frozen=True, slots=True, kw_only=True)
class CallerQuestion:
    """What to ask the caller: the check's title, how to look, and the outcomes as people say them."""

    title: str
    how: tuple[str, ...]
    outcomes: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Visit:
    """Everything to know before leaving; minutes are at the machine, with the ends of their 80 % interval.

    `codes` stood on the panel and moved what is likely.
    """

    complaint: str
    faults: tuple[tuple[str, float], ...]
    causes: tuple[LikelyCause, ...]
    bring: tuple[Carried, ...]
    leave: tuple[Carried, ...]
    chance: float
    chance_with_all: float
    target: float
    minutes: float
    low_minutes: float
    high_minutes: float
    who: tuple[str, ...]
    ask: tuple[CallerQuestion, ...]
    warnings: tuple[str, ...]
    codes: tuple[str, ...] = ()
