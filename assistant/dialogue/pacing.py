"""A procedure being gone through and an utterance -> its next step; hold points are confirmed, figures held against limits."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from assistant.corpus.figures import format_value
from assistant.dialogue.commands import Command, Said
from assistant.dialogue.replies import done_said
from assistant.domain.answer import Answer, Line, Outcome, Role
from assistant.domain.entries import Procedure, Step
from assistant.domain.guide import Pacing, StepReading, Work
from assistant.domain.terms import Energy, EntryId, Value
from assistant.domain.turn import Conversation
from assistant.domain.utterance import Utterance
from assistant.isolation.reading import span
from assistant.recognition.readings import Reading, in_unit, one_reading
from assistant.rules import energy_state, phrases
from assistant.rules.guide_pages import GuidePages, Page, energy_of, may_skip, steps_of
from assistant.rules.unfinished import not_finished
from assistant.rules.verdict import Case, Rules

ISOLATES = "isolate-and-prove-dead"
"""The procedure that steps name when they say isolate: its items are confirmed one by one before such a step counts as done."""
ABSURD = 10.0
"""A reading this many times beyond a limit is asked again: a slip of the tongue or of the range switch."""
Turn = tuple[Answer, Conversation]


class Steps:
    """Procedures in a conversation; holds no state of one."""

    def __init__(self, procedures: Mapping[EntryId, Procedure], rules: Rules, pages: GuidePages) -> None:
        """Keep what steps are looked up in."""
        self._procedures = procedures
        self._rules = rules
        self._pages = pages

    def procedure(self, pace: Pacing) -> Procedure:
        """The procedure being gone through."""
        return self._procedures[pace.procedure]

    def present(
        self, utterance: Utterance, before: Conversation, notes: Sequence[Line] = (), *, titled: bool = False
    ) -> Turn:
        """The page of the step that is due, or what must be confirmed before it may be given; `titled` names the procedure."""
        pace = before.work.pacing
        assert pace is not None
        procedure = self.procedure(pace)
        needs = energy_of(procedure, steps_of(procedure)[pace.at])
        before = self._come_up(before, needs)
        page = self._pages.step(procedure, pace.at, titled=titled)
        if needs is Energy.ISOLATED and before.state.energy is not Energy.ISOLATED:
            page = self._isolating(procedure, steps_of(procedure)[pace.at], page)
        after = replace(before, pending=page.pending, confirmed=(), asked="", focus=procedure.full_id)
        after = replace(after, state=replace(after.state, step=page.step))
        case = Case(utterance=utterance, state=after.state, scope=after.scope)
        return self._rules.guided(case, page, notes), after

    @staticmethod
    def _come_up(before: Conversation, needs: Energy) -> Conversation:
        """A step in a shallower state brings the supply back, so the isolation counts no more from the moment it is told."""
        if before.state.energy is Energy.ISOLATED and needs in (Energy.RUNNING, Energy.STOPPED):
            return energy_state.void(before, needs)
        return before

    def _isolating(self, procedure: Procedure, step: Step, page: Page) -> Page:
        """A step that needs the machine dead, before it is: the items, not the step, unless isolating is the step."""
        change = self._pages.isolate(procedure)
        if ISOLATES in step.do:
            return replace(change, lead=step.do, source=procedure.full_id, step=page.step, hazards=page.hazards)
        return replace(change, step=page.step)

    def isolated(self, utterance: Utterance, before: Conversation) -> Turn:
        """The last item was confirmed: a step that was only to isolate is done."""
        pace = before.work.pacing
        assert pace is not None
        procedure = self.procedure(pace)
        if ISOLATES in steps_of(procedure)[pace.at].do:
            return self._on(utterance, before, pace, (Line(text=phrases.ISOLATION_DONE),))
        return self.present(utterance, before, (Line(text=phrases.ISOLATION_DONE),))

    # --- taking what was said

    def take(self, utterance: Utterance, before: Conversation) -> Turn | None:
        """Done, not done or a reading; None for something else."""
        pace = before.work.pacing
        assert pace is not None
        procedure = self.procedure(pace)
        step = steps_of(procedure)[pace.at]
        if _waits_for_isolation(before, procedure, step):
            return None if done_said(utterance.text) is None else self.present(utterance, before)
        reading = one_reading(utterance.text)
        if reading is not None and step.limits and len(utterance.text.split()) <= MOST_WORDS:
            return self._reading(utterance, before, pace, step, reading)
        done = done_said(utterance.text)
        if done is None:
            return None
        if not done:
            lines = [Line(text=text, source=pace.procedure) for text in step.if_not]
            return self._in_short(utterance, before, lines) if lines else self.present(utterance, before)
        return self._on(utterance, before, pace)

    def _on(self, utterance: Utterance, before: Conversation, pace: Pacing, notes: Sequence[Line] = ()) -> Turn:
        procedure = self.procedure(pace)
        if pace.at + 1 < len(steps_of(procedure)):
            after = _with(before, replace(pace, at=pace.at + 1, missed=0))
            return self.present(utterance, after, notes)
        lines = [*notes, *self._skipped(procedure, pace)]
        page = Page(
            lead=phrases.PROCEDURE_DONE, source=pace.procedure, lines=tuple(lines), outcome=Outcome.DONE, pending=None
        )
        after = _with(before, None)
        after = replace(after, pending=None, state=replace(after.state, step=None))
        case = Case(utterance=utterance, state=after.state, scope=after.scope)
        return self._rules.guided(case, page), after

    def _reading(self, utterance: Utterance, before: Conversation, pace: Pacing, step: Step, reading: Reading) -> Turn:
        limit, value = _limit_of(step, reading)
        if limit is None or value is None:
            why = phrases.AGAIN_NO_UNIT if not reading.unit else phrases.AGAIN_UNIT
            return self._asked_again(utterance, before, why)
        low, high = span(limit)
        if _absurd(value, low, high):
            return self._asked_again(utterance, before, phrases.AGAIN_IMPOSSIBLE)
        fits = low <= value <= high
        verdict = Line(
            text=f"{reading.text} {phrases.WITHIN if fits else phrases.NOT_WITHIN} {format_value(limit)}.",
            source=pace.procedure,
            computed=(reading.text.split()[0],),
        )
        noted = replace(pace, readings=(*pace.readings, _step_reading(pace.at, reading, value, limit)))
        lines = [verdict, *(Line(text=t, source=pace.procedure) for t in (() if fits else step.if_not))]
        return self._in_short(utterance, _with(before, noted), lines)

    def _in_short(self, utterance: Utterance, before: Conversation, lines: Sequence[Line]) -> Turn:
        """What follows from what was said of a step, without the step again; the same is still asked."""
        pace = before.work.pacing
        assert pace is not None
        due = self._pages.step(self.procedure(pace), pace.at)
        page = replace(due, lead=lines[0].text, lines=tuple(lines[1:]))
        case = Case(utterance=utterance, state=before.state, scope=before.scope)
        return self._rules.guided(case, page), replace(before, pending=page.pending)

    def _asked_again(self, utterance: Utterance, before: Conversation, why: str) -> Turn:
        case = Case(utterance=utterance, state=before.state, scope=before.scope, pending=before.pending)
        return self._rules.ask_again(case, why), before

    def _skipped(self, procedure: Procedure, pace: Pacing) -> list[Line]:
        if not pace.skipped:
            return []
        steps = steps_of(procedure)
        lines = [Line(text=phrases.SKIPPED, role=Role.HEADING)]
        return lines + [Line(text=steps[i].do, role=Role.ITEM, source=procedure.full_id) for i in pace.skipped]

    # --- commands

    def steer(self, utterance: Utterance, before: Conversation, said: Said) -> Turn | None:
        """Next, back, repeat, where was I, skip, how far, why; None for a command that means nothing here."""
        pace = before.work.pacing
        assert pace is not None
        procedure = self.procedure(pace)
        step = steps_of(procedure)[pace.at]
        match said.command:
            case Command.NEXT:
                if step.hold or _waits_for_isolation(before, procedure, step):
                    return self.present(utterance, before, (Line(text=phrases.NO_NEXT),))
                return self._on(utterance, before, pace)
            case Command.BACK:
                if pace.at == 0:
                    return self.present(utterance, before, (Line(text=phrases.NO_BACK),))
                return self.present(utterance, _with(before, replace(pace, at=pace.at - 1)))
            case Command.REPEAT | Command.WHERE | Command.AGAIN:
                return self.present(utterance, before, titled=said.command is Command.WHERE)
            case Command.SKIP:
                return self._skip(utterance, before, pace)
            case Command.HOW_FAR | Command.ELSE:
                left = str(len(steps_of(procedure)) - pace.at)
                note = Line(text=f"{left} {phrases.STEPS_LEFT}", computed=(left,))
                return self.present(utterance, before, (note,))
            case Command.WHY:
                lines = [Line(text=text, source=procedure.full_id) for text in procedure.purpose]
                return self.present(utterance, before, lines)
            case _:
                return None

    def _skip(self, utterance: Utterance, before: Conversation, pace: Pacing) -> Turn:
        procedure = self.procedure(pace)
        if not may_skip(procedure, pace.at):
            return self.present(utterance, before, (Line(text=phrases.NO_SKIP),))
        return self._on(utterance, before, replace(pace, skipped=(*pace.skipped, pace.at)))

    def unfinished(self, pace: Pacing, energy: Energy) -> tuple[Line, ...]:
        """The steps that are still to be done, for whoever comes next."""
        lines: list[Line] = []
        for heading, texts in not_finished(self.procedure(pace), pace.at, energy):
            lines.append(Line(text=heading, role=Role.HEADING))
            lines += [Line(text=text, role=Role.ITEM, source=pace.procedure) for text in texts]
        return tuple(lines)


MOST_WORDS = 12
"""A longer utterance with a figure in it is a question, not a reading."""


def _with(before: Conversation, pace: Pacing | None) -> Conversation:
    return replace(before, work=Work(isolating=before.work.isolating, pacing=pace))


def _waits_for_isolation(before: Conversation, procedure: Procedure, step: Step) -> bool:
    return energy_of(procedure, step) is Energy.ISOLATED and before.state.energy is not Energy.ISOLATED


def _limit_of(step: Step, reading: Reading) -> tuple[Value | None, float | None]:
    """The first limit of the step that measures what the reading measures, and the reading in its unit."""
    for limit in step.limits:
        value = in_unit(reading, limit.unit)
        if value is not None:
            return limit, value
    return None, None


def _step_reading(at: int, reading: Reading, value: float, limit: Value) -> StepReading:
    low, high = span(limit)
    return StepReading(
        at=at,
        text=reading.text,
        value=value,
        unit=limit.unit,
        limits=format_value(limit),
        below=value < low,
        above=value > high,
    )


def _absurd(value: float, low: float, high: float) -> bool:
    ends = [abs(end) for end in (low, high) if end not in (float("inf"), float("-inf"))]
    return bool(ends) and max(ends) > 0 and abs(value) >= ABSURD * max(ends)
