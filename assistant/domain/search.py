"""What is looked for and what is found: passage, query, hit."""

from __future__ import annotations

from dataclasses import dataclass

from assistant.domain.terms import EntryId, Kind


@dataclass(frozen=True, slots=True, kw_only=True)
class Sentence:
    """One authored sentence, its entry and its place in it (`answer`, `details`, `sign`, ...)."""

    entry: EntryId
    section: str
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Passage:
    """One searchable text of an entry; the author's own sections, no chunker."""

    entry: EntryId
    section: str
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Query:
    """A question made ready for retrieval.

    `text` is what is encoded, `terms` the stemmed content words, `scope` the pack in scope or None,
    `codes` and `designations` those named, in order, and `exact` the entries they name.
    """

    text: str
    terms: tuple[str, ...]
    scope: str | None
    codes: tuple[str, ...] = ()
    designations: tuple[str, ...] = ()
    exact: tuple[EntryId, ...] = ()
    aliased: tuple[EntryId, ...] = ()
    wishes: tuple[Kind, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Hit:
    """A ranked entry: fused score, its rank in each ranker (1-based, 0 = not found) and the passage that matched."""

    entry: EntryId
    score: float
    ranks: tuple[tuple[str, int], ...] = ()
    passage: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Nearness:
    """How near a question is to the wishes that a refusal names (mean cosine of the nearest ones)."""

    refusal: EntryId
    unsafe: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Findings:
    """All that retrieval says of one query.

    Hits best first, the chance that the knowledge covers it, and the chance that it is a wish to be refused, with the
    refusals nearest first.
    """

    query: Query
    hits: tuple[Hit, ...]
    covered: float
    unsafe: float = 0.0
    nearness: tuple[Nearness, ...] = ()
    elapsed_ms: tuple[tuple[str, float], ...] = ()
