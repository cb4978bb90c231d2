"""Entry -> the lead and the lines of its answer, every line cited; procedures whole or not at all."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from assistant.corpus.figures import format_value
from assistant.domain.answer import Line, Role
from assistant.domain.draft import Draft
from assistant.domain.entries import (
    Check,
    Code,
    Component,
    Entry,
    Fact,
    FaultModel,
    Maintenance,
    Part,
    Procedure,
    Refusal,
    Signal,
    Step,
)
from assistant.domain.knowledge import KnowledgeBase
from assistant.domain.terms import Energy, EntryId
from assistant.rules import phrases
from assistant.rules.energy_state import needs_isolation, steps_allowed

MOST_CHECKS = 3
"""Checks of a fault told at once; more scroll the warnings off the screen. `show ID` or `more` tells all."""
MAX_CHOSEN = 3
"""Sentences that composition may bring to the front; all others follow in the author's order."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Body:
    """Lead, lines, and whether the steps were withheld for want of isolation."""

    lead: str
    lines: tuple[Line, ...]
    withheld: bool = False


class BodyBuilder:
    """Builds bodies in a given energy state."""

    def __init__(self, knowledge: KnowledgeBase) -> None:
        """Keep what titles, parts and energy rules are looked up in."""
        self._entries = {entry.full_id: entry for entry in knowledge.entries()}
        self._energy = knowledge.energy
        self._parts = knowledge.parts
        self._wires = knowledge.wires

    def title(self, entry: EntryId) -> str:
        """The title of an entry."""
        return self._entries[entry].title

    def build(self, entry: Entry, draft: Draft, energy: Energy, *, full: bool = True) -> Body:
        """The body of the entry; of a fault not in full, the first checks are told and the others named."""
        match entry:
            case Code():
                return Body(lead=f"Code {entry.id}: {entry.title}.", lines=self._code(entry))
            case FaultModel():
                return Body(lead=f"{entry.title}.", lines=self._fault(entry, energy, full=full))
            case Procedure():
                return self._procedure(entry, energy)
            case Component():
                return self._component(entry, draft)
            case Fact():
                return self._fact(entry, draft)
            case Maintenance():
                return Body(lead=f"{entry.title}.", lines=self._maintenance(entry))
            case Signal():
                return Body(lead=f"{entry.title}.", lines=self._signal(entry))
            case Part():
                return Body(lead=f"{entry.title}.", lines=self._part(entry))
            case Refusal():
                return Body(lead=phrases.REFUSED, lines=refusal_lines(entry))

    def _code(self, code: Code) -> tuple[Line, ...]:
        put = _Lines(code.full_id)
        put.sentences("", (*code.meaning,))
        put.sentences(phrases.RAISED, code.raised_when)
        put.sentences(phrases.CLEARS, code.clears_when)
        put.items(phrases.CAUSES, (_named(cause.name, cause.sign) for cause in code.causes))
        put.steps(phrases.FIRST, code.first)
        return put.done()

    def _fault(self, fault: FaultModel, energy: Energy, *, full: bool) -> tuple[Line, ...]:
        put = _Lines(fault.full_id)
        put.sentences(phrases.MEANING, fault.meaning)
        causes = sorted(fault.causes, key=lambda c: -c.weight)
        put.items(phrases.CAUSES, (_named(cause.name, cause.sign) for cause in causes))
        closed = needs_isolation(fault, energy)
        open_checks = [check for check in fault.checks if check.id not in closed]
        put.heading(phrases.CHECKS, open_checks)
        told = open_checks if full else open_checks[:MOST_CHECKS]
        for check in told:
            self._check(check, put)
        put.items(phrases.CHECKS_NEXT, (f"{c.title}." for c in open_checks[len(told) :]))
        if any(check.live for check in open_checks):
            put.notes(phrases.LIVE, (*self._energy.live.who, *self._energy.live.distance))
        if any(check.energy is Energy.RUNNING for check in open_checks):
            state = self._energy.state(Energy.RUNNING)
            put.notes(phrases.DISTANCE, (*state.who, *state.distance))
        put.items(phrases.CHECKS_ISOLATED, (f"{c.title}." for c in fault.checks if c.id in closed))
        put.sentences(phrases.AFTERWARDS, fault.afterwards)
        put.plain(phrases.GUIDE_OFFER)
        return put.done()

    def _check(self, check: Check, put: _Lines) -> None:
        state = self._energy.state(check.energy).title.lower() if check.energy is not Energy.UNKNOWN else ""
        put.item(f"{check.title} ({check.minutes:g} min, {state}{', live' if check.live else ''}).")
        for text in (*check.do, *check.good, *check.bad):
            put.note(text)

    def _procedure(self, procedure: Procedure, energy: Energy) -> Body:
        put = _Lines(procedure.full_id)
        put.sentences("", procedure.purpose)
        state = self._energy.state(procedure.energy)
        put.sentences(phrases.STATE, (f"{state.title}.", *state.who, *state.distance), source=False)
        put.sentences(phrases.WHO, procedure.who)
        put.sentences(phrases.TIME, (f"{procedure.minutes:g} min.",))
        put.items(phrases.TOOLS, procedure.tools)
        put.items(phrases.PARTS, procedure.parts)
        put.sentences("", procedure.before)
        put.items(phrases.FIGURES, procedure.figures)
        if not steps_allowed(procedure, energy):
            put.plain(phrases.WITHHELD)
            return Body(lead=f"{procedure.title}.", lines=put.done(), withheld=True)
        self._steps(phrases.STEPS, procedure.steps, put)
        self._steps(phrases.PROVE, procedure.prove, put)
        put.plain(phrases.GUIDE_OFFER)
        return Body(lead=f"{procedure.title}.", lines=put.done())

    def _steps(self, heading: str, steps: Sequence[Step], put: _Lines) -> None:
        put.heading(heading, steps)
        for step in steps:
            put.step(step.do)
            for text in (*step.expect, *step.if_not):
                put.note(text)

    def _component(self, component: Component, draft: Draft) -> Body:
        put = _Lines(component.full_id)
        put.sentences("", _chosen(draft, component.full_id))
        sections = (
            (phrases.WHERE, component.location),
            (phrases.WHAT, component.function),
            (phrases.CONDITION, component.condition),
            (phrases.DANGER, component.danger),
        )
        for heading, sentences in sections:
            put.sentences(heading, put.unsaid(sentences))
        if component.rating is not None:
            put.sentences(phrases.RATING, (format_value(component.rating),))
        put.sentences(phrases.FED_BY, (", ".join(component.fed_by),) if component.fed_by else ())
        put.sentences(phrases.FEEDS, (", ".join(component.feeds),) if component.feeds else ())
        for part in self._parts:
            if component.id in part.fits and part.pack == component.pack:
                put.cited(phrases.PART, f"{part.title}: {format_value(part.spec)}", part.full_id)
        return Body(lead=f"{component.title}.", lines=put.done())

    def _fact(self, fact: Fact, draft: Draft) -> Body:
        chosen = _chosen(draft, fact.full_id) or fact.answer[:1]
        put = _Lines(fact.full_id)
        put.said(chosen[0])
        put.sentences("", chosen[1:])
        put.sentences("", put.unsaid((*fact.answer, *fact.details)))
        return Body(lead=chosen[0], lines=put.done())

    def _maintenance(self, plan: Maintenance) -> tuple[Line, ...]:
        put = _Lines(plan.full_id)
        put.sentences(phrases.TIME, (format_value(plan.interval),))
        put.sentences(phrases.WHO, plan.who)
        state = self._energy.state(plan.energy)
        put.sentences(phrases.STATE, (f"{state.title}.", *state.who), source=False)
        for task in plan.tasks:
            put.step(task.do)
            for text in (*task.limit, *task.if_not):
                put.note(text)
        return put.done()

    def _signal(self, signal: Signal) -> tuple[Line, ...]:
        put = _Lines(signal.full_id)
        put.sentences(phrases.ON, signal.on_means)
        put.sentences(phrases.OFF, signal.off_means)
        put.sentences(phrases.SEE_AT, signal.see_at)
        put.sentences(phrases.TERMINAL, (signal.terminal, f"wire {signal.wire}"))
        return put.done()

    def _part(self, part: Part) -> tuple[Line, ...]:
        put = _Lines(part.full_id)
        put.sentences(phrases.PART, (format_value(part.spec),))
        put.sentences(phrases.FITS, (", ".join(part.fits),) if part.fits else ())
        return put.done()


def refusal_lines(refusal: Refusal) -> tuple[Line, ...]:
    """Why not, and the safe way to the same end."""
    put = _Lines(refusal.full_id)
    put.sentences(phrases.WHY_NOT, refusal.reason)
    put.steps(phrases.SAFE_WAY, refusal.safe_way)
    return put.done()


class _Lines:
    """Collects the lines of one entry."""

    def __init__(self, source: EntryId) -> None:
        self._source = source
        self._lines: list[Line] = []
        self._said: set[str] = set()

    def done(self) -> tuple[Line, ...]:
        return tuple(self._lines)

    def unsaid(self, texts: Iterable[str]) -> tuple[str, ...]:
        """Those not yet among the lines."""
        return tuple(text for text in texts if text not in self._said)

    def said(self, text: str) -> None:
        """Count a sentence as shown, although it stands outside the lines (in the lead)."""
        self._said.add(text)

    def heading(self, text: str, following: Sequence[object]) -> None:
        if text and following:
            self._lines.append(Line(text=text, role=Role.HEADING))

    def plain(self, text: str) -> None:
        self._lines.append(Line(text=text, role=Role.SENTENCE))

    def sentences(self, heading: str, texts: Iterable[str], *, source: bool = True) -> None:
        self._many(heading, tuple(texts), Role.SENTENCE, source=source)

    def items(self, heading: str, texts: Iterable[str]) -> None:
        self._many(heading, tuple(texts), Role.ITEM)

    def steps(self, heading: str, texts: Iterable[str]) -> None:
        self._many(heading, tuple(texts), Role.STEP)

    def notes(self, heading: str, texts: Iterable[str]) -> None:
        self._many(heading, tuple(texts), Role.SENTENCE, source=False)

    def _many(self, heading: str, texts: tuple[str, ...], role: Role, *, source: bool = True) -> None:
        self.heading(heading, texts)
        for text in texts:
            self._said.add(text)
            self._lines.append(Line(text=text, role=role, source=self._source if source else ENERGY_SOURCE))

    def item(self, text: str) -> None:
        self._lines.append(Line(text=text, role=Role.ITEM, source=self._source))

    def step(self, text: str) -> None:
        self._lines.append(Line(text=text, role=Role.STEP, source=self._source))

    def note(self, text: str) -> None:
        self._lines.append(Line(text=text, role=Role.NOTE, source=self._source))

    def cited(self, heading: str, text: str, source: EntryId) -> None:
        self.heading(heading, (text,))
        self._lines.append(Line(text=text, role=Role.SENTENCE, source=source))


ENERGY_SOURCE = EntryId("safety/energy/states")
"""The citation of the authored energy rules."""


def _named(name: str, signs: Sequence[str]) -> str:
    return f"{name}: {signs[0]}" if signs else f"{name}."


def _chosen(draft: Draft, entry: EntryId) -> tuple[str, ...]:
    return tuple(s.text for s in draft.sentences if s.entry == entry)[:MAX_CHOSEN]
