"""Utterance -> Query: what is named exactly, the terms to look for, the pack in scope and the kind of entry wished for."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass

from assistant.domain.knowledge import KnowledgeBase
from assistant.domain.search import Query
from assistant.domain.terms import EntryId, Kind
from assistant.recognition.spoken_forms import CodeMention, codes_in, designations_in, written
from assistant.retrieval.analysis import terms_of, words_of

_WISHES: tuple[tuple[Kind, re.Pattern[str]], ...] = (
    (Kind.COMPONENT, re.compile(r"\bwhere(?:'?s| is| are| do i find| can i find| would i find| abouts?)\b|\blocat|\bwhat(?:'?s| is| does) .{2,40}\b(?:for|do|feed|control|power|supply)\b|\bwhich (?:fuse|sensor|switch|motor|drive|relay|brake|terminal|lamp|valve)\b|\bpurpose of\b")),
    (Kind.PROCEDURE, re.compile(r"\bhow (?:do|can|should|would|to|does one|must)\b.{0,60}\b(?:i|we|you|one|to|replac|chang|fit|set|adjust|test|swap|clean|thread|load|measure|calibrat|prove|isolate)|\bhow to\b|\bsteps?\b|\bprocedure\b|\binstructions?\b|\bwalk me through\b|\btalk me through\b|^(?:replace|change|swap|set|adjust|fit|test|thread|clean|calibrate|align|isolate)\b")),
    (Kind.FAULT, re.compile(r"\bwhy\b|\bkeeps?\b|\bwon'?t\b|\bdoes ?n[o']?t\b|\bdoesnt\b|\bnot? (?:move|start|stop|turn|go|rise|work|see|hold|come)|\bstopped\b|\balways\b|\bnothing happens\b|\bdead\b|\bnois|\bstuck\b|\bby itself\b|\bevery time\b")),
    (Kind.MAINTENANCE, re.compile(r"\bhow often\b|\b(?:daily|weekly|monthly|yearly|annual|every (?:day|week|month|year|shift|morning))\b|\bservice (?:plan|schedule|interval|list)|\bmaintenance\b|\bcheck ?list\b")),
    (Kind.PART, re.compile(r"\b(?:spares?|order(?:ing)?|re-?order|part (?:number|no)|part|parts|stock|buy|purchase|replacement for|need a new|want a new|like for like|in the stores?|in store|requisition)\b")),
    (Kind.FACT, re.compile(r"\bhow (?:long|much|many|big|high|low|hot|far|fast|heavy|thick|wide|loud|cold)\b|\bwhat(?:'?s| is| are) (?:the )?(?:max|min|limit|allowed|normal|right|correct|difference|rated|biggest|heaviest)|\bis it (?:ok|okay|normal|allowed|good|bad)\b|\bmeaning of\b|\bwhat does .{1,30} mean\b|\ballowed\b|\bexplain\b|\bdifference\b")),
)  # fmt: skip
"""Turns of phrase by which people ask for a kind of entry; a hint to the ranking, never a filter."""
PLACING = frozenset("from behind after before past beside near towards into off between leaving".split())
"""Words before a machine that is named as a place: the pallet from the wrapper stands on the conveyor."""
MIN_ALIAS = 4
"""Shorter aliases ("tb") name too much."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Formulation:
    """A query, and the numbers that were meant as codes but exist in no pack in scope."""

    query: Query
    unknown_codes: tuple[CodeMention, ...] = ()


class Formulator:
    """Knows every name in the knowledge."""

    def __init__(
        self, knowledge: KnowledgeBase, lexicon: Mapping[str, str], mend: Callable[[str], str] = lambda text: text
    ) -> None:
        """Gather codes, designations, aliases and machine names; `mend`: text as typed -> without slips."""
        self.lexicon = lexicon
        self._mend = mend
        self._codes: dict[str, list[tuple[str, EntryId]]] = {}
        for code in knowledge.codes:
            self._codes.setdefault(code.id, []).append((code.pack, code.full_id))
        self._named: dict[str, list[tuple[str, EntryId]]] = {}
        for item in (*knowledge.components, *knowledge.signals):
            self._named.setdefault(item.id, []).append((item.pack, item.full_id))
        self._aliases: dict[tuple[str, ...], list[tuple[str, EntryId]]] = {}
        for component in knowledge.components:
            for alias in (component.name, *component.aliases):
                if len(alias) >= MIN_ALIAS:
                    entries = self._aliases.setdefault(words_of(alias), [])
                    if (component.pack, component.full_id) not in entries:
                        entries.append((component.pack, component.full_id))
        self._machines = [
            (tuple(words_of(alias)), machine.pack)
            for machine in knowledge.machines
            for alias in (machine.name, *machine.aliases)
        ]

    def formulate(self, text: str, scope: str | None) -> Formulation:
        """The query of a text, designations as they are written; a machine named in it overrides the scope."""
        mentions = codes_in(text)
        text = self._mend(written(text, self._named))
        words = words_of(text)
        scope = self._machine_named(words) or scope
        codes = [m for m in mentions if self._is_code(m, scope)]
        designations = designations_in(text, self._named)
        exact: dict[EntryId, None] = {}
        for mention in codes:
            exact.update(dict.fromkeys(self._in_scope(self._codes[mention.digits], scope)))
        for name in designations:
            exact.update(dict.fromkeys(self._in_scope(self._named[name], scope)))
        query = Query(
            text=text,
            terms=terms_of(text, self.lexicon),
            scope=scope,
            codes=tuple(m.digits for m in codes),
            designations=designations,
            exact=tuple(exact),
            aliased=self._aliased(words, scope),
            wishes=tuple(kind for kind, pattern in _WISHES if pattern.search(text.lower())),
        )
        unknown = tuple(m for m in mentions if m.digits not in query.codes and (m.certain or m.alone))
        return Formulation(query=query, unknown_codes=unknown)

    def _is_code(self, mention: CodeMention, scope: str | None) -> bool:
        places = self._in_scope(self._codes.get(mention.digits, []), scope)
        return bool(places)

    def _in_scope(self, places: list[tuple[str, EntryId]], scope: str | None) -> list[EntryId]:
        return [entry for pack, entry in places if scope is None or pack == scope]

    def _machine_named(self, words: tuple[str, ...]) -> str | None:
        """The machine that the words are about: its own name first; one that is a mere place ("from the wrapper") is not meant."""
        found = [
            ((pack,) != name, -len(name), name, pack)
            for name, pack in self._machines
            for at in _places(words, name)
            if (pack,) == name or not _is_a_place(words, at, len(name))
        ]
        return min(found)[-1] if found else None

    def _aliased(self, words: tuple[str, ...], scope: str | None) -> tuple[EntryId, ...]:
        found: dict[EntryId, None] = {}
        taken: set[int] = set()
        for alias in sorted(self._aliases, key=lambda a: (-len(a), a)):
            places = _places(words, alias)
            free = [i for i in places if not taken & set(range(i, i + len(alias)))]
            if free:
                taken.update(j for i in free for j in range(i, i + len(alias)))
                found.update(dict.fromkeys(self._in_scope(self._aliases[alias], scope)))
        return tuple(found)


def _places(words: tuple[str, ...], part: tuple[str, ...]) -> list[int]:
    return [i for i in range(len(words) - len(part) + 1) if part and words[i : i + len(part)] == part]


def _is_a_place(words: tuple[str, ...], at: int, length: int) -> bool:
    """Whether a machine is named to say where something is or comes from, not to say what is meant."""
    before = words[max(0, at - 2) : at]
    before = before[:-1] if before and before[-1] in ("the", "a", "our") else before[-1:]
    after = words[at + length : at + length + 1]
    return bool(PLACING & set(before[-1:])) or bool(after and after[0] in ("end", "side"))
