"""Cases put to the assistant -> what it did with each, kept so that every measure can be taken afterwards."""

from __future__ import annotations

import dataclasses
import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from assistant.dialogue.session import Session
from assistant.domain.answer import Answer
from assistant.domain.entries import Entry
from assistant.domain.search import Findings, Hit, Query
from assistant.domain.stages import Retriever
from assistant.domain.terms import Hazard
from assistant.pipeline import Assistant
from assistant.rendering.terminal import Style, render
from eval.cases import EvalCase

_FIGURE = re.compile(r"\b[A-Z]{2}\d+\b|\d+(?:\.\d+)?")
"""Designations and numbers: what may not be in an answer without standing in what it cites."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Observed:
    """A case and what came of it.

    `hits` best first, ten at most; `covered` and `unsafe` the chances that retrieval gave; `told` lead and body lines;
    `warned_first` whether the rendered page opens with its warnings, most severe first; `ungrounded` the figures and
    designations of the answer that stand neither in what it cites nor in the question.
    """

    case: EvalCase
    outcome: str
    hits: tuple[Hit, ...]
    warnings: tuple[Hazard, ...]
    warned_first: bool
    codes: tuple[str, ...]
    refusal: str
    covered: float
    unsafe: float
    told: tuple[str, ...]
    ungrounded: tuple[str, ...]
    elapsed_ms: float

    @property
    def ranking(self) -> tuple[str, ...]:
        """Ids of the hits, best first."""
        return tuple(str(hit.entry) for hit in self.hits)


class Listening:
    """A retriever that keeps the last findings, for the chances that an answer does not carry."""

    def __init__(self, inner: Retriever) -> None:
        """Wrap a retriever."""
        self.inner = inner
        self.last: Findings | None = None

    def search(self, query: Query) -> Findings:
        """The inner one's findings."""
        self.last = self.inner.search(query)
        return self.last


class Observer:
    """Puts questions to one assistant, each in a conversation of its own."""

    def __init__(self, assistant: Assistant, clock_ms: Callable[[], float]) -> None:
        """Read the texts that answers may cite."""
        self._assistant = assistant
        self._clock_ms = clock_ms
        knowledge = assistant.knowledge
        self._texts = {str(e.full_id): _text_of(e) for e in knowledge.entries()}
        controllers = {machine.pack: machine.controller for machine in knowledge.machines}
        self._texts |= {f"{w.pack}/wire/{w.wire}": " ".join(_texts(dataclasses.asdict(w))) for w in knowledge.wires}
        self._texts |= {f"{s.pack}/wire/{s.wire}": f"{_text_of(s)} {controllers[s.pack]}" for s in knowledge.signals}
        self._texts |= {str(s.full_id): " ".join(_texts(dataclasses.asdict(s))) for s in knowledge.settings}
        self._common = " ".join(item.ask for item in knowledge.energy.isolation_items)
        self._common += " ".join(i.ask for items in knowledge.energy.of_machine.values() for i in items)
        self._common += " ".join(t for s in knowledge.energy.states for t in (*s.meaning, *s.who, *s.distance))
        self._common += " ".join(knowledge.energy.live.who + knowledge.energy.live.distance)

    def observe(self, case: EvalCase) -> Observed:
        """One case asked."""
        assistant = self._assistant
        listening = Listening(assistant.retriever)
        assistant.retriever = listening
        started = self._clock_ms()
        try:
            answer = Session(assistant, case.machine or None).say(case.q)
        finally:
            assistant.retriever = listening.inner
        elapsed = self._clock_ms() - started
        found = listening.last
        return Observed(
            case=case,
            outcome=str(answer.outcome),
            hits=answer.hits,
            warnings=tuple(w.hazard for w in answer.warnings),
            warned_first=_warned_first(answer),
            codes=answer.codes,
            refusal=str(answer.refusal or ""),
            covered=found.covered if found else 0.0,
            unsafe=found.unsafe if found else 0.0,
            told=(answer.lead, *(line.text for line in answer.body)),
            ungrounded=self._ungrounded(answer),
            elapsed_ms=round(elapsed, 3),
        )

    def _ungrounded(self, answer: Answer) -> tuple[str, ...]:
        cited = {str(line.source) for line in answer.body if line.source} | {str(s) for s in answer.sources}
        allowed = " ".join([self._common, answer.question, *(self._texts.get(entry, "") for entry in sorted(cited))])
        computed = " ".join(figure for line in answer.body for figure in line.computed)
        if answer.calculation is not None:
            computed += " " + " ".join(_texts(dataclasses.asdict(answer.calculation)))
        known = set(_FIGURE.findall(f"{allowed} {computed}"))
        said = " ".join((answer.lead, *(line.text for line in answer.body)))
        return tuple(sorted(set(_FIGURE.findall(said)) - known))


def observe_all(observer: Observer, cases: Iterable[EvalCase], tick: Callable[[], None]) -> tuple[Observed, ...]:
    """Every case asked, `tick` called after each."""
    seen = []
    for case in cases:
        seen.append(observer.observe(case))
        tick()
    return tuple(seen)


def _text_of(entry: Entry) -> str:
    """Everything authored of an entry, at whatever depth; independent of how the rules read it."""
    return " ".join((str(entry.full_id), *_texts(dataclasses.asdict(entry))))


def _texts(thing: Any) -> Iterator[str]:
    if isinstance(thing, Mapping):
        for key, value in thing.items():
            yield str(key)
            yield from _texts(value)
    elif isinstance(thing, (list, tuple)):
        for value in thing:
            yield from _texts(value)
    elif thing is not None:
        yield f"{thing:g}" if isinstance(thing, float) else str(thing)


def _warned_first(answer: Answer) -> bool:
    """No warning, or the page opens with them and a more severe signal word never follows a milder one."""
    if not answer.warnings:
        return True
    order = ("DANGER", "WARNING", "CAUTION")
    words = [order.index(str(w.signal_word)) for w in answer.warnings]
    page = render(answer, Style()).lstrip()
    return words == sorted(words) and page.startswith(str(answer.warnings[0].signal_word))


def groups_of(seen: Sequence[Observed]) -> tuple[str, ...]:
    """The groups of the cases, sorted."""
    return tuple(sorted({item.case.group for item in seen}))
