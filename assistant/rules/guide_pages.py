"""A check, repair, proof, change of state or step that is due -> the page that asks for it, from authored sentences."""

from __future__ import annotations

from dataclasses import dataclass, replace

from assistant.domain.answer import Line, Outcome, Role
from assistant.domain.entries import Check, FaultModel, Procedure, Repair, Step
from assistant.domain.knowledge import KnowledgeBase
from assistant.domain.terms import Energy, EntryId, Hazard
from assistant.domain.turn import Pending, PendingKind
from assistant.isolation.explanation import Explanation
from assistant.rules import phrases
from assistant.rules.body import ENERGY_SOURCE
from assistant.rules.energy_state import next_item
from assistant.rules.guide_numbers import likely_now, times_in_a_row, why_short, work_name
from assistant.rules.safety import SafetyChooser

NEEDS_MOTION_OR_OPENING = frozenset(
    {Hazard.ELECTRIC_SHOCK, Hazard.ARC_FLASH, Hazard.STORED_ENERGY, Hazard.ENTANGLEMENT, Hazard.CRUSHING}
)
"""Hazards that a machine which stands with its covers shut does not bring to somebody who only looks."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Page:
    """What the guide shows; `step` names where the work is ("pack/kind/slug#part")."""

    lead: str
    source: EntryId
    lines: tuple[Line, ...]
    outcome: Outcome
    pending: Pending | None
    hazards: tuple[Hazard, ...] = ()
    step: str | None = None


class GuidePages:
    """Builds the pages of guided work."""

    def __init__(self, knowledge: KnowledgeBase, safety: SafetyChooser) -> None:
        """Keep what names, parts and energy rules are looked up in."""
        self._safety = safety
        self._energy = knowledge.energy
        self._titles = {entry.full_id: entry.title for entry in knowledge.entries()}

    def check(self, fault: FaultModel, check: Check, state: Energy, told: Explanation) -> Page:
        """A check: how it is done, who may do it live, why it is worth its minutes, what may be found."""
        source = fault.full_id
        lines = [Line(text=text, role=Role.STEP, source=source) for text in check.do]
        lines += _items(phrases.TOOLS, check.tools, source)
        lines += self._who(state, live=check.live)
        lines += _aside(why_short(fault, told), likely_now(fault, told))
        live = ", live" if check.live else ""
        return Page(
            lead=f"{check.title} ({check.minutes:g} min, {self._energy.state(state).title.lower()}{live}).",
            source=source,
            lines=tuple(lines),
            outcome=Outcome.CHECK if check.reading is None else Outcome.READING,
            pending=check_pending(check, fault.full_id),
            hazards=self._check_hazards(fault, check, state),
            step=f"{source}#{check.id}",
        )

    def repair(self, fault: FaultModel, repair: Repair, told: Explanation | None) -> Page:
        """A repair: the remedy of each cause that it cures, likeliest first, parts and tools, its procedure."""
        source = fault.full_id
        remedies = [text for cause in fault.causes if cause.id in repair.cures for text in cause.remedy]
        lines = [Line(text=text, role=Role.STEP, source=source) for text in dict.fromkeys(remedies)]
        lines += _items(phrases.PARTS, [f"{self._titles[EntryId(part)]}." for part in repair.parts], source)
        lines += _items(phrases.TOOLS, repair.tools, source)
        if repair.procedure:
            named = EntryId(repair.procedure)
            lines.append(Line(text=phrases.STEPS_AT, role=Role.HEADING))
            lines.append(Line(text=f"{self._titles[named]}.", role=Role.ITEM, source=named))
        lines += self._who(repair.energy, live=False)
        if told is not None:
            lines += _aside(why_short(fault, told), likely_now(fault, told))
        choices = (phrases.DONE, phrases.NOT_DONE, phrases.CANT_DO)
        return Page(
            lead=f"{repair.title} ({repair.minutes:g} min, {self._energy.state(repair.energy).title.lower()}).",
            source=source,
            lines=tuple(lines),
            outcome=Outcome.STEP,
            pending=Pending(kind=PendingKind.CONFIRM, text=phrases.IS_IT_DONE, choices=choices),
            hazards=_hazards_in(fault, repair.energy, live=False),
            step=f"{source}#{repair.id}",
        )

    def proof(self, fault: FaultModel, told: Explanation, *, seen: bool = False) -> Page:
        """The run that shows the complaint gone; no chance is told where the cause was seen and not inferred."""
        lines = [Line(text=text, role=Role.STEP, source=fault.full_id) for text in fault.afterwards]
        assert fault.proof is not None
        lines += self._who(fault.proof.energy, live=False)
        lines += times_in_a_row(told)
        lines += () if seen else _aside(why_short(fault, told))
        return Page(
            lead=f"{phrases.PROOF} ({fault.proof.minutes:g} min): {fault.title}.",
            source=fault.full_id,
            lines=tuple(lines),
            outcome=Outcome.CHECK,
            pending=Pending(kind=PendingKind.CHECK, text=phrases.DID_IT_PASS, choices=(phrases.PASSED, phrases.FAILED)),
            hazards=_hazards_in(fault, fault.proof.energy, live=False),
            step=f"{fault.full_id}#proof",
        )

    def change(self, fault: FaultModel, start: Energy, end: Energy, told: Explanation) -> Page:
        """A change of energy state, a step of its own, with what it is for; isolation is confirmed item by item."""
        lines = [] if end is Energy.ISOLATED else [Line(text=phrases.MEANS, role=Role.HEADING), *self._meaning(end)]
        works = [told.action, *told.there]
        lines.append(Line(text=phrases.THERE, role=Role.HEADING))
        lines += [Line(text=f"{work_name(fault, w)}.", role=Role.ITEM, source=fault.full_id) for w in works]
        lines += _aside(likely_now(fault, told))
        if end is Energy.ISOLATED:
            lead, pending = phrases.ISOLATE_FIRST, next_item(self._energy, (), fault.pack)
        else:
            lead = _lead_of_change(start, end)
            pending = Pending(kind=PendingKind.CONFIRM, text=phrases.SAY_WHEN, choices=(str(end),))
        return Page(
            lead=lead,
            source=ENERGY_SOURCE,
            lines=tuple(lines),
            outcome=Outcome.STEP,
            pending=pending,
            hazards=_hazards_in(fault, end if end is not Energy.ISOLATED else Energy.STOPPED, live=False),
            step=f"{fault.full_id}#{end}",
        )

    def isolate(self, procedure: Procedure) -> Page:
        """The isolation that a procedure's step needs, confirmed item by item."""
        return Page(
            lead=phrases.ISOLATE_FIRST,
            source=ENERGY_SOURCE,
            lines=(),
            outcome=Outcome.STEP,
            pending=next_item(self._energy, (), procedure.pack),
            hazards=tuple(h for h in procedure.hazards if h in (Hazard.ELECTRIC_SHOCK, Hazard.STORED_ENERGY)),
        )

    def which_state(self, fault: FaultModel, lines: tuple[Line, ...]) -> Page:
        """Nothing is offered in a state that was not declared."""
        pending = Pending(kind=PendingKind.CONFIRM, text=phrases.WHICH_STATE, choices=phrases.STATES)
        return Page(
            lead=f"{fault.title}.",
            source=fault.full_id,
            lines=lines,
            outcome=Outcome.CHECK,
            pending=pending,
            hazards=fault.hazards,
            step=f"{fault.full_id}#state",
        )

    def ended(self, fault: FaultModel, lead: str, lines: tuple[Line, ...]) -> Page:
        """The hunt is over: proved, or handed over."""
        return Page(lead=lead, source=fault.full_id, lines=lines, outcome=Outcome.DONE, pending=None)

    def step(self, procedure: Procedure, at: int, *, titled: bool = False) -> Page:
        """One step: its warning comes first by its hazards, then what to do, what should be found, what to do if not."""
        source, steps = procedure.full_id, steps_of(procedure)
        step = steps[at]
        place = (str(at + 1), str(len(steps)))
        of = f": {procedure.title}." if titled or at == 0 else "."
        where = f"{phrases.STEP_OF} {place[0]} {phrases.OF} {place[1]}{of}"
        lines = [Line(text=where, source=source, computed=place, ahead=True)]
        lines += _said(phrases.EXPECT, step.expect, source)
        lines += _said(phrases.IF_NOT, step.if_not, source)
        lines += self._who(energy_of(procedure, step), live=False) if at == 0 or _state_changes(procedure, at) else ()
        if step.hold:
            lines.append(Line(text=phrases.HOLD))
        skip = ("skip",) if may_skip(procedure, at) else ()
        choices = (phrases.DONE, phrases.NOT_DONE, *skip)
        return Page(
            lead=step.do,
            source=source,
            lines=tuple(lines),
            outcome=Outcome.STEP,
            pending=Pending(kind=PendingKind.CONFIRM, text=phrases.IS_IT_DONE, choices=choices),
            hazards=step.hazards,
            step=f"{source}#{at + 1}",
        )

    def leaving(self, energy: Energy, unfinished: tuple[Line, ...]) -> tuple[Line, ...]:
        """What state the machine is left in, and what must not be done."""
        lines = [Line(text=phrases.LEFT_IN_STATE, role=Role.HEADING), *self._state_lines(energy)]
        texts = self._energy.unknown if energy is Energy.UNKNOWN else self._energy.state(energy).leaving
        lines += [Line(text=text, source=ENERGY_SOURCE) for text in texts]
        return (*lines, *unfinished)

    def _check_hazards(self, fault: FaultModel, check: Check, state: Energy) -> tuple[Hazard, ...]:
        """What can hurt at this check: the first page and every change of state have shown all that the fault holds.

        With the machine standing and its covers shut, what hurts without motion and without a meter, what the check's own
        words raise and, live, the shock; else the fault's hazards as that state leaves them.
        """
        if state is not Energy.STOPPED:
            return _hazards_in(fault, state, live=check.live)
        live = (Hazard.ELECTRIC_SHOCK, Hazard.ARC_FLASH) if check.live else ()
        raised = self._safety.from_words(" ".join((check.title, *check.do)))
        still = tuple(h for h in fault.hazards if h not in NEEDS_MOTION_OR_OPENING)
        return tuple(dict.fromkeys((*live, *still, *(h for h in raised if h in fault.hazards))))

    def _state_lines(self, energy: Energy) -> tuple[Line, ...]:
        if energy is Energy.UNKNOWN:
            return ()
        return (Line(text=f"{self._energy.state(energy).title}.", source=ENERGY_SOURCE), *self._meaning(energy))

    def _meaning(self, energy: Energy) -> tuple[Line, ...]:
        return tuple(Line(text=text, source=ENERGY_SOURCE) for text in self._energy.state(energy).meaning)

    def _who(self, energy: Energy, *, live: bool) -> tuple[Line, ...]:
        texts: list[str] = []
        if live:
            texts += [*self._energy.live.who, *self._energy.live.distance]
        if energy is not Energy.UNKNOWN:
            state = self._energy.state(energy)
            texts += [*state.who, *state.distance]
        heading = [Line(text=phrases.WHO, role=Role.HEADING)] if texts else []
        return (*heading, *(Line(text=text, source=ENERGY_SOURCE) for text in texts))


def check_pending(check: Check, fault: EntryId) -> Pending:
    """What is asked of the technician: the outcomes in the author's order, or a reading."""
    reading = check.reading is not None
    return Pending(
        kind=PendingKind.READING if reading else PendingKind.CHECK,
        text=phrases.WHAT_READ if reading else phrases.WHAT_FOUND,
        choices=(*(outcome.says[0] for outcome in check.outcomes), phrases.DONT_KNOW, phrases.CANT),
        source=fault,
    )


def steps_of(procedure: Procedure) -> tuple[Step, ...]:
    """Work and proof in one row."""
    return (*procedure.steps, *procedure.prove)


def may_skip(procedure: Procedure, at: int) -> bool:
    """Whether a step may be left out: no hold point, nothing that can hurt, and none of the steps that prove."""
    step = steps_of(procedure)[at]
    return not (step.hold or step.hazards or at >= len(procedure.steps))


def energy_of(procedure: Procedure, step: Step) -> Energy:
    """The state that a step is done in."""
    return step.energy or procedure.energy


def _state_changes(procedure: Procedure, at: int) -> bool:
    steps = steps_of(procedure)
    return at > 0 and energy_of(procedure, steps[at]) is not energy_of(procedure, steps[at - 1])


def _lead_of_change(start: Energy, end: Energy) -> str:
    if start is Energy.ISOLATED:
        return phrases.RESTORE_FIRST
    return phrases.START_FIRST if end is Energy.RUNNING else phrases.STOP_FIRST


def _hazards_in(fault: FaultModel, energy: Energy, *, live: bool) -> tuple[Hazard, ...]:
    """The fault's hazards that can be met in that state; what is proved dead shocks nobody, all else can still hurt."""
    if energy is Energy.ISOLATED:
        gone = {Hazard.ELECTRIC_SHOCK, Hazard.ARC_FLASH}
        return tuple(h for h in fault.hazards if h not in gone)
    return tuple(dict.fromkeys((*fault.hazards, *((Hazard.ELECTRIC_SHOCK,) if live else ()))))


def _aside(*groups: tuple[Line, ...]) -> list[Line]:
    """Figures that a listener asks for with why or what else, and that would stand between the work and its question."""
    return [replace(line, aside=True) for group in groups for line in group]


def _items(heading: str, texts: list[str] | tuple[str, ...], source: EntryId) -> list[Line]:
    if not texts:
        return []
    return [Line(text=heading, role=Role.HEADING), *(Line(text=t, role=Role.ITEM, source=source) for t in texts)]


def _said(heading: str, texts: tuple[str, ...], source: EntryId) -> list[Line]:
    if not texts:
        return []
    return [Line(text=heading, role=Role.HEADING), *(Line(text=t, source=source) for t in texts)]
