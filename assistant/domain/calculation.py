"""What a calculation takes and gives: figures with their unit and origin, formula in words, sources, limit, verdict, next."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from assistant.domain.terms import EntryId


class Standing(StrEnum):
    """How well a source stands, as it is told to the user."""

    CONFIRMED = "confirmed"
    DEFINITION = "definition"
    COMMON_PRACTICE = "common practice, no source"
    FROM_MEMORY = "from memory"


class Verdict(StrEnum):
    """What the result means for the work."""

    GOOD = "good"
    ACT = "act"
    STOP = "stop"
    NO_LIMIT = "no limit"


class Origin(StrEnum):
    """Where an input came from."""

    YOU = "you"
    MACHINE = "the machine's knowledge"
    TABLE = "the table"
    ASSUMED = "assumed"


@dataclass(frozen=True, slots=True, kw_only=True)
class Figure:
    """One computed figure; `text` is its value with sensible digits and its unit, `value` the whole of it."""

    name: str
    value: float
    unit: str
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Taken:
    """One input as it was taken: its meaning, value with unit, where it came from ("you", "the machine's knowledge of MA1")."""

    name: str
    meaning: str
    text: str
    origin: Origin
    place: str = ""
    entry: EntryId | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """A clause with its edition, and how well it stands."""

    text: str
    standing: Standing


@dataclass(frozen=True, slots=True, kw_only=True)
class Result:
    """Everything that is shown of one calculation; the first figure is the answer."""

    calculator: str
    title: str
    figures: tuple[Figure, ...]
    taken: tuple[Taken, ...]
    formula: str
    sources: tuple[Source, ...]
    limit: str = ""
    verdict: Verdict = Verdict.NO_LIMIT
    why: str = ""
    next: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Given:
    """A figure or a word for one input, as it was given: "0.55 kW" is text and nothing else until a calculation runs."""

    name: str
    text: str
    origin: Origin = Origin.YOU
    place: str = ""
    entry: EntryId | None = None
