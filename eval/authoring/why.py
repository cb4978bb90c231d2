"""One question -> why each of the first five stands where it does, and what would let the expected entry win."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from assistant.domain.search import Hit, Query
from assistant.domain.terms import EntryId
from assistant.errors import UnknownName
from assistant.pipeline import Assistant
from assistant.retrieval.analysis import terms_of
from assistant.retrieval.passages import asked_passages, told_passages
from assistant.retrieval.reranking import Evidence, features
from assistant.retrieval.retriever import HybridRetriever, Rankings

SHOWN = 5
RANKERS = ("asked", "told", "dense-asked", "dense-told")
TITLES = ("words asked", "words told", "sense asked", "sense told")
"""What the author reads for the four rankers: by words or by meaning, among phrasings or among the text."""
STEPS = 20
"""Halvings of the search for the cosine that would be enough."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """One entry for one question.

    Its place (1-based), its score in the weights' own units, its rank in each ranker (0 = not found), the question's terms
    that its text holds, its nearest phrasing with the cosine, and what each feature brings.
    """

    entry: EntryId
    place: int
    score: float
    ranks: Mapping[str, int]
    words: tuple[str, ...]
    phrasing: str
    cosine: float
    brings: tuple[tuple[str, float], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Why:
    """Everything that decided about one question.

    `enough` is the least cosine of a further phrasing with which the expected entry would win, `enough_in_words` the same if
    that phrasing holds the question's own words too; None where it would not be enough.
    """

    question: str
    query: Query
    covered: float
    covered_needed: float
    unsafe: float
    unsafe_needed: float
    outcome: str
    standings: tuple[Standing, ...]
    expected: Standing | None = None
    enough: float | None = None
    enough_in_words: float | None = None
    missing: tuple[str, ...] = ()


class Inquiry:
    """Looks into one assistant's ranking."""

    def __init__(self, assistant: Assistant) -> None:
        """Read what each entry may be found by."""
        retriever = assistant.retriever
        assert isinstance(retriever, HybridRetriever)
        self._assistant, self._retriever = assistant, retriever
        self._entries = {e.full_id: e for e in assistant.knowledge.entries()}

    def why(self, question: str, expected: str | None, machine: str | None, outcome: str) -> Why:
        """The inquiry; `outcome` is what the whole assistant made of it.

        Raises:
            UnknownName: the expected entry does not exist.

        """
        if expected is not None and EntryId(expected) not in self._entries:
            near = self._assistant.rules.near_names(expected)
            raise UnknownName(f"There is no entry `{expected}`.", f"Near it: {', '.join(near) or 'nothing'}.")
        query = self._assistant.formulator.formulate(question, machine).query
        findings = self._retriever.search(query)
        rankings = self._retriever.rankings(query, self._retriever.encoded(query.text))
        ordered = self._ordered(query, rankings)
        standings = [self._standing(query, rankings, hit, place) for place, hit in enumerate(ordered[:SHOWN], start=1)]
        wanted = self._expected(query, rankings, ordered, expected)
        return Why(
            question=question,
            query=query,
            covered=findings.covered,
            covered_needed=self._retriever.coverage.threshold,
            unsafe=findings.unsafe,
            unsafe_needed=self._assistant.judge.unsafe_threshold,
            outcome=outcome,
            standings=tuple(standings),
            expected=wanted,
            enough=self._enough(query, rankings, ordered, wanted, words=False),
            enough_in_words=self._enough(query, rankings, ordered, wanted, words=True),
            missing=self._missing(query, wanted),
        )

    def _ordered(self, query: Query, rankings: Rankings) -> tuple[Hit, ...]:
        return self._retriever.ordered(query, rankings)

    def _score(self, query: Query, entry: EntryId, evidence: Evidence) -> tuple[float, tuple[tuple[str, float], ...]]:
        weights = self._retriever.tuning.ranking
        row = features(query, entry, self._retriever.kinds[entry], evidence)
        brings = sorted(((n, weights.get(n, 0.0) * v) for n, v in row.items()), key=lambda p: (-abs(p[1]), p[0]))
        return sum(value for _, value in brings), tuple(brings)

    def _standing(self, query: Query, rankings: Rankings, hit: Hit, place: int) -> Standing:
        evidence = rankings.evidence.get(hit.entry, Evidence())
        score, brings = self._score(query, hit.entry, evidence)
        phrasing = next((h.passage for h in rankings.lists["dense-asked"] if h.entry == hit.entry), "")
        return Standing(
            entry=hit.entry,
            place=place,
            score=score,
            ranks={name: dict(evidence.ranks).get(name, 0) for name in RANKERS},
            words=tuple(dict.fromkeys(t for t in query.terms if t in self._terms(hit.entry))),
            phrasing=phrasing,
            cosine=evidence.asked_cosine,
            brings=brings,
        )

    def _terms(self, entry: EntryId) -> frozenset[str]:
        item = self._entries[entry]
        lexicon = self._assistant.formulator.lexicon
        texts = [p.text for p in (*asked_passages(item), *told_passages(item))]
        return frozenset(term for text in texts for term in terms_of(text, lexicon))

    def _expected(
        self, query: Query, rankings: Rankings, ordered: Sequence[Hit], expected: str | None
    ) -> Standing | None:
        if expected is None:
            return None
        for place, hit in enumerate(ordered, start=1):
            if hit.entry == expected:
                return self._standing(query, rankings, hit, place)
        return self._standing(query, rankings, Hit(entry=EntryId(expected), score=0.0), 0)

    def _enough(
        self, query: Query, rankings: Rankings, ordered: Sequence[Hit], wanted: Standing | None, *, words: bool
    ) -> float | None:
        """The least cosine of a new phrasing with which the entry would come first; None if none would be enough."""
        if wanted is None or wanted.place == 1 or not ordered:
            return None
        first = self._standing(query, rankings, ordered[0], 1).score

        def wins(cosine: float) -> bool:
            return self._score(query, wanted.entry, self._with(rankings, wanted.entry, cosine, words=words))[0] > first

        if not wins(1.0):
            return None
        low, high = wanted.cosine, 1.0
        for _ in range(STEPS):
            middle = (low + high) / 2
            low, high = (low, middle) if wins(middle) else (middle, high)
        return high

    @staticmethod
    def _with(rankings: Rankings, entry: EntryId, cosine: float, *, words: bool) -> Evidence:
        """The entry's evidence had it one more phrasing this near; `words`: in the question's own words, so the first by them."""
        old = rankings.evidence.get(entry, Evidence())
        nearer = 1 + sum(1 for h in rankings.lists["dense-asked"] if h.entry != entry and h.score > cosine)
        ranks = {**dict(old.ranks), "dense-asked": nearer, **({"asked": 1} if words else {})}
        if words:
            most = max((e.asked_bm25 for e in rankings.evidence.values()), default=old.asked_bm25)
            old = replace(old, asked_bm25=most, asked_bm25_share=1.0)
        way = (cosine - old.asked_cosine) / max(1.0 - old.asked_cosine, 1e-6)  # 1 for the question itself
        gain = max(0.0, way) * (1.0 - old.whitened.best)
        whitened = replace(old.whitened, best=old.whitened.best + gain, mean=old.whitened.mean + gain / 3)
        return replace(
            old,
            whitened=whitened,
            asked_cosine=max(cosine, old.asked_cosine),
            asked_mean=old.asked_mean + max(0.0, cosine - old.asked_cosine) / 3,
            top_cosine=max(old.top_cosine, cosine),
            ranks=tuple(sorted(ranks.items())),
        )

    def _missing(self, query: Query, wanted: Standing | None) -> tuple[str, ...]:
        """Terms of the question that the expected entry nowhere has."""
        return tuple(dict.fromkeys(t for t in query.terms if wanted is not None and t not in wanted.words))


def as_lines(why: Why) -> list[str]:
    """The page that the author reads."""
    query = why.query
    lines = [f"question: {why.question}", f"outcome: {why.outcome}"]
    named = (*query.codes, *query.designations, *(f"alias of {e}" for e in query.aliased))
    lines.append(
        f"named in it: {', '.join(named) or 'nothing'}; sounds like a question for: {', '.join(query.wishes) or 'any kind'}"
    )
    lines.append(f"words looked for: {', '.join(query.terms) or 'none'}")
    lines.append(
        f"covered: {why.covered:.2f}, answered from {why.covered_needed:.2f}; to be refused: {why.unsafe:.2f}, refused from {why.unsafe_needed:.2f}"
    )
    for standing in why.standings:
        lines += ["", *_standing_lines(standing)]
    if why.expected is not None:
        lines += ["", "EXPECTED", *_standing_lines(why.expected), *_advice(why)]
    return lines


def _standing_lines(s: Standing) -> list[str]:
    ranks = ", ".join(f"{title} {s.ranks[name] or '-'}" for name, title in zip(RANKERS, TITLES, strict=True))
    brings = ", ".join(f"{name} {value:+.2f}" for name, value in s.brings[:5])
    return [
        f"{s.place or 'not found':>2}  {s.entry}   score {s.score:.2f}",
        f"    rank by {ranks}",
        f"    words matched: {', '.join(s.words) or 'none'}",
        f"    nearest phrasing: {s.phrasing or 'none among the nearest'} (cosine {s.cosine:.2f})",
        f"    what counted most: {brings}",
    ]


def _advice(why: Why) -> list[str]:
    expected, lines = why.expected, []
    assert expected is not None
    if expected.place == 1:
        return ["    it comes first already."]
    gap = why.standings[0].score - expected.score if why.standings else 0.0
    lines.append(f"    it is {gap:.2f} behind {why.standings[0].entry if why.standings else 'nothing'}.")
    if why.enough is not None:
        lines.append(
            f"    it would win with a phrasing of that sense, cosine {why.enough:.2f} or more (now {expected.cosine:.2f})."
        )
    elif why.enough_in_words is not None:
        lines.append(
            f"    it would win with a phrasing in the question's own words, cosine {why.enough_in_words:.2f} or more"
            f" (now {expected.cosine:.2f})."
        )
    else:
        lines.append(
            "    no single phrasing would be enough: the winner is named in the question, or its kind is asked for."
        )
    if why.missing:
        lines.append(f"    words of the question that it has nowhere: {', '.join(why.missing)}.")
    if why.covered < why.covered_needed:
        lines.append("    and the question counts as not covered: near phrasings and known words raise that chance.")
    return lines
