"""A fault being hunted and an utterance -> the next check, repair or proof; the planner decides what, the rules say it."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace

from assistant.dialogue.cause_named import named_causes
from assistant.dialogue.check_reply import CheckReply, Miss, reply_to_check
from assistant.dialogue.commands import Command, Said
from assistant.dialogue.replies import done_said, passed_said
from assistant.domain.answer import Answer, Line, Outcome, Role
from assistant.domain.entries import Check, FaultModel, Repair
from assistant.domain.fault_log import (
    Answered,
    CantCheck,
    CantRepair,
    ChangeState,
    Decision,
    DoCheck,
    DontKnow,
    DoRepair,
    Event,
    Finish,
    HandOver,
    Log,
    ProofFailed,
    ProofPassed,
    Prove,
    ReadingNear,
    Repaired,
    Revised,
)
from assistant.domain.guide import Isolating, Work
from assistant.domain.terms import Energy, EntryId
from assistant.domain.turn import Conversation, Pending, PendingKind
from assistant.domain.utterance import Utterance
from assistant.errors import IsolationError
from assistant.isolation import Isolator, contradiction, explain, read
from assistant.isolation.progress import edited
from assistant.recognition.readings import Reading, in_unit
from assistant.rules import phrases
from assistant.rules.guide_numbers import cause_name, left, likely_now, options, why_long
from assistant.rules.guide_pages import GuidePages, Page
from assistant.rules.verdict import Case, Rules

METER_SHARE = 0.01
"""Tolerance that a meter's reading is taken with: one in a hundred, as a hand meter of the trade has (common practice, no
source)."""
Turn = tuple[Answer, Conversation]


class Hunt:
    """Fault isolation in a conversation; holds no state of one."""

    def __init__(
        self,
        faults: Mapping[EntryId, FaultModel],
        rules: Rules,
        pages: GuidePages,
        isolator_of: Callable[[FaultModel], Isolator],
    ) -> None:
        """`isolator_of` gives the planner of a fault, with the weights that hold here."""
        self._faults = faults
        self._rules = rules
        self._pages = pages
        self._isolator_of = isolator_of

    def fault(self, hunt: Isolating) -> FaultModel:
        """The fault being hunted."""
        return self._faults[hunt.fault]

    def decide(self, hunt: Isolating, energy: Energy) -> Decision:
        """What the planner wants next."""
        return self._isolator_of(self.fault(hunt)).decide(hunt.log, energy)

    # --- presenting what is due

    def present(self, utterance: Utterance, before: Conversation, notes: Sequence[Line] = ()) -> Turn:
        """The page of what is due now."""
        hunt = before.work.isolating
        assert hunt is not None
        page, over = self._page(hunt, before.state.energy)
        hunt = replace(hunt, over=over, missed=0)
        work = replace(before.work, isolating=hunt)
        after = replace(before, pending=page.pending, confirmed=(), work=work, asked="")
        after = replace(after, state=replace(after.state, step=page.step), focus=hunt.fault)
        case = Case(utterance=utterance, state=after.state, scope=after.scope)
        return self._rules.guided(case, page, (*notes, *self._doubts(hunt))), after

    def _page(self, hunt: Isolating, energy: Energy) -> tuple[Page, str]:
        fault = self.fault(hunt)
        isolator = self._isolator_of(fault)
        decision = isolator.decide(hunt.log, energy)
        told = explain(isolator.model, hunt.log, decision)
        if isinstance(decision.action, Finish):
            return self._pages.ended(fault, phrases.CURED, likely_now(fault, told)), "proved"
        if energy is Energy.UNKNOWN:
            lines = (*(Line(text=t, source=fault.full_id) for t in fault.meaning), *likely_now(fault, told))
            return self._pages.which_state(fault, lines), ""
        if hunt.chosen:
            repair = _repair(fault, hunt.chosen)
            if repair.energy not in (energy, Energy.UNKNOWN):
                told = replace(told, action=DoRepair(repair=repair.id, energy=repair.energy), there=())
                return self._pages.change(fault, energy, repair.energy, told), ""
            return self._pages.repair(fault, repair, None), ""
        if isinstance(decision.step, ChangeState):
            return self._pages.change(fault, decision.step.start, decision.step.end, told), ""
        match decision.action:
            case DoCheck(check=name):
                return self._pages.check(fault, _check(fault, name), energy, told), ""
            case DoRepair(repair=name):
                return self._pages.repair(fault, _repair(fault, name), told), ""
            case Prove():
                return self._pages.proof(fault, told), ""
            case HandOver() | Finish():
                return self._pages.ended(fault, phrases.HAND_OVER, why_long(fault, told)), "handed over"

    def _doubts(self, hunt: Isolating) -> tuple[Line, ...]:
        """Answers that fit nothing, a surprise at the proof, something that is not on the list."""
        if hunt.over or not hunt.log:
            return ()
        fault = self.fault(hunt)
        model = self._isolator_of(fault).model
        found = contradiction(model, hunt.log)
        lines: list[Line] = []
        if found.alarm and found.suspects:
            check = _check(fault, found.suspects[0].check)
            said = _said_of(hunt.log, check.id)
            lines.append(Line(text=phrases.CONTRADICTION))
            lines.append(Line(text=f"{check.title} ({said}).", role=Role.ITEM, source=fault.full_id))
            lines.append(Line(text=phrases.RETAKE))
        elif found.strange:
            lines.append(Line(text=phrases.STRANGE))
        return tuple(lines)

    # --- taking what was said

    def take(self, utterance: Utterance, before: Conversation) -> Turn | None:
        """What a plain utterance does to the action that is due; None when it is nothing of that."""
        hunt = before.work.isolating
        assert hunt is not None
        energy = before.state.energy
        if before.pending is not None and before.pending.text == phrases.WHICH_CAUSE:
            return self._found(utterance, before, hunt, utterance.text)
        if energy is Energy.UNKNOWN:
            return None
        decision = self.decide(hunt, energy)
        if hunt.chosen or (isinstance(decision.action, DoRepair) and not isinstance(decision.step, ChangeState)):
            name = hunt.chosen or (decision.action.repair if isinstance(decision.action, DoRepair) else "")
            return self._repaired(utterance, before, hunt, name)
        if isinstance(decision.step, ChangeState):
            return None
        match decision.action:
            case DoCheck(check=name):
                return self._checked(utterance, before, hunt, _check(self.fault(hunt), name))
            case Prove():
                return self._proved(utterance, before, hunt)
            case _:
                return None

    def _checked(self, utterance: Utterance, before: Conversation, hunt: Isolating, check: Check) -> Turn | None:
        event = self._event(utterance, before, check, reply_to_check(utterance.text, check))
        if isinstance(event, str):
            return self._asked_again(utterance, before, event)
        if event is None:
            return None
        return self._logged(utterance, before, event)

    def _event(self, utterance: Utterance, before: Conversation, check: Check, reply: CheckReply) -> Event | str | None:
        """The event of a reply, words that ask again, or None for something else than an answer."""
        if reply.unknown:
            return DontKnow(check=check.id)
        if reply.outcome:
            return Answered(check=check.id, outcome=reply.outcome)
        if reply.reading is not None:
            return self._read(before, check, reply.reading)
        if reply.miss is Miss.SEVERAL:
            return phrases.AGAIN_SEVERAL
        return None

    def _read(self, before: Conversation, check: Check, reading: Reading) -> Event | str:
        assert check.reading is not None and before.work.isolating is not None
        if not reading.unit:
            return phrases.AGAIN_NO_UNIT
        value = in_unit(reading, check.reading.unit)
        if value is None:
            return phrases.AGAIN_UNIT
        limits = self.fault(before.work.isolating).limits
        try:
            event = read(check, limits, value, METER_SHARE * abs(value))
        except IsolationError:
            return phrases.AGAIN_NO_FIT
        return phrases.AGAIN_IMPOSSIBLE if event is None else event

    def _repaired(self, utterance: Utterance, before: Conversation, hunt: Isolating, name: str) -> Turn | None:
        done = done_said(utterance.text)
        if done is None:
            return None
        if not done:
            return self._asked_again(utterance, before, phrases.AGAIN_DONE)
        after = _with(before, replace(hunt, chosen="", log=(*hunt.log, Repaired(repair=name))))
        return self.present(utterance, after)

    def _proved(self, utterance: Utterance, before: Conversation, hunt: Isolating) -> Turn | None:
        passed = passed_said(utterance.text)
        if passed is None:
            return None
        return self._logged(utterance, before, ProofPassed() if passed else ProofFailed())

    def _logged(self, utterance: Utterance, before: Conversation, event: Event, notes: Sequence[Line] = ()) -> Turn:
        hunt = before.work.isolating
        assert hunt is not None
        after = _with(before, replace(hunt, log=(*hunt.log, event)))
        if isinstance(event, ProofFailed) and self._surprised(after):
            notes = (*notes, Line(text=phrases.SURPRISING))
        return self.present(utterance, after, notes)

    def _surprised(self, after: Conversation) -> bool:
        hunt = after.work.isolating
        assert hunt is not None
        isolator = self._isolator_of(self.fault(hunt))
        decision = isolator.decide(hunt.log, after.state.energy)
        return explain(isolator.model, hunt.log, decision).surprised

    def _asked_again(self, utterance: Utterance, before: Conversation, why: str) -> Turn:
        hunt = before.work.isolating
        assert hunt is not None
        after = _with(before, replace(hunt, missed=hunt.missed + 1))
        case = Case(utterance=utterance, state=before.state, scope=before.scope, pending=before.pending)
        return self._rules.ask_again(case, why), after

    def ask_again(self, utterance: Utterance, before: Conversation) -> Turn:
        """Nothing that was said fits: the outcomes are named."""
        return self._asked_again(utterance, before, phrases.AGAIN_OUTCOMES)

    # --- commands

    def steer(self, utterance: Utterance, before: Conversation, said: Said) -> Turn | None:
        """Why, what else, back, skip, check again, found it, how far; None for a command that means nothing here."""
        hunt = before.work.isolating
        assert hunt is not None
        match said.command:
            case Command.REPEAT | Command.WHERE | Command.NEXT:
                return self.present(utterance, before)
            case Command.BACK:
                return self._back(utterance, before, hunt)
            case Command.SKIP:
                return self._skip(utterance, before, hunt)
            case Command.AGAIN:
                return self._again(utterance, before, hunt)
            case Command.WHY | Command.ELSE | Command.HOW_FAR:
                return self._told(utterance, before, hunt, said.command)
            case Command.FOUND:
                return self._found(utterance, before, hunt, said.rest)
            case _:
                return None

    def _back(self, utterance: Utterance, before: Conversation, hunt: Isolating) -> Turn:
        if hunt.chosen:
            return self.present(utterance, _with(before, replace(hunt, chosen="")))
        if not hunt.log:
            return self.present(utterance, before, (Line(text=phrases.NO_BACK),))
        return self.present(utterance, _with(before, replace(hunt, log=hunt.log[:-1])))

    def _skip(self, utterance: Utterance, before: Conversation, hunt: Isolating) -> Turn:
        if hunt.chosen:
            withdrawn: Event = CantRepair(repair=hunt.chosen)
            return self._logged(utterance, _with(before, replace(hunt, chosen="")), withdrawn)
        match self.decide(hunt, before.state.energy).action:
            case DoCheck(check=name):
                return self._logged(utterance, before, CantCheck(check=name))
            case DoRepair(repair=name):
                return self._logged(utterance, before, CantRepair(repair=name))
            case _:
                return self.present(utterance, before, (Line(text=phrases.NO_SKIP),))

    def _again(self, utterance: Utterance, before: Conversation, hunt: Isolating) -> Turn:
        """The most suspect answer, else the last one, is taken back and its check opened again."""
        answered = [e.check for e in hunt.log if isinstance(e, Answered | ReadingNear | DontKnow | CantCheck)]
        if not answered:
            return self.present(utterance, before, (Line(text=phrases.NOTHING_TO_CORRECT),))
        found = contradiction(self._isolator_of(self.fault(hunt)).model, hunt.log)
        name = found.suspects[0].check if found.alarm and found.suspects else answered[-1]
        revised = replace(hunt, log=(*hunt.log, Revised(check=name, to=None)))
        return self.present(utterance, _with(before, revised))

    def correct(self, utterance: Utterance, before: Conversation, rest: str) -> Turn | None:
        """The last answer is replaced ("no wait, it was on"); None when the rest fits no outcome of that check."""
        hunt = before.work.isolating
        assert hunt is not None
        said = [e for e in hunt.log if isinstance(e, Answered | ReadingNear | DontKnow | CantCheck)]
        if not said:
            return None
        check = _check(self.fault(hunt), said[-1].check)
        event = self._event(utterance, before, check, reply_to_check(rest, check))
        if not isinstance(event, Answered | ReadingNear | DontKnow | CantCheck):
            return None
        after = _with(before, replace(hunt, log=(*hunt.log, Revised(check=check.id, to=event))))
        outcome = event.outcome if isinstance(event, Answered) else rest
        note = Line(text=f"{phrases.CORRECTED} {check.title} ({outcome}).", source=hunt.fault)
        return self.present(utterance, after, (note,))

    def _told(self, utterance: Utterance, before: Conversation, hunt: Isolating, what: Command) -> Turn:
        fault = self.fault(hunt)
        isolator = self._isolator_of(fault)
        decision = isolator.decide(hunt.log, before.state.energy)
        told = explain(isolator.model, hunt.log, decision)
        if what is Command.WHY:
            notes: tuple[Line, ...] = why_long(fault, told)
        elif what is Command.HOW_FAR:
            notes = (left(fault, told.minutes_left),)
        else:
            others = [(o.action, o.minutes_left) for o in decision.options if o.action != decision.action]
            notes = (*likely_now(fault, told), *options(fault, others[:4]))
        page, _ = self._page(hunt, before.state.energy)
        short = Page(
            lead=page.lead,
            source=page.source,
            lines=notes,
            outcome=page.outcome,
            pending=page.pending,
            hazards=page.hazards,
        )
        case = Case(utterance=utterance, state=before.state, scope=before.scope)
        return self._rules.guided(case, short), replace(before, pending=page.pending)

    def _found(self, utterance: Utterance, before: Conversation, hunt: Isolating, rest: str) -> Turn:
        """The technician has seen the cause: its repair comes next, whatever the planner thinks."""
        fault = self.fault(hunt)
        causes = named_causes(fault, rest)
        if len(causes) != 1:
            return self._which_cause(utterance, before, fault, causes)
        repair = max(fault.repairs, key=lambda r: (r.cures.get(causes[0], 0.0), -r.minutes))
        note = Line(text=f"{phrases.FOUND_CAUSE} {cause_name(fault, causes[0])}.", source=fault.full_id)
        return self.present(utterance, _with(before, replace(hunt, chosen=repair.id)), (note,))

    def _which_cause(
        self, utterance: Utterance, before: Conversation, fault: FaultModel, causes: Sequence[str]
    ) -> Turn:
        listed = causes or [cause.id for cause in fault.causes]
        names = tuple(cause_name(fault, cause) for cause in listed)
        page = Page(
            lead=phrases.WHICH_CAUSE,
            source=fault.full_id,
            lines=tuple(Line(text=f"{name}.", role=Role.ITEM, source=fault.full_id) for name in names),
            outcome=Outcome.ASK_AGAIN,
            pending=Pending(kind=PendingKind.CHECK, text=phrases.WHICH_CAUSE, choices=names),
        )
        case = Case(utterance=utterance, state=before.state, scope=before.scope)
        return self._rules.guided(case, page), replace(before, pending=page.pending)


def _with(before: Conversation, hunt: Isolating) -> Conversation:
    return replace(before, work=Work(isolating=hunt, pacing=before.work.pacing))


def _check(fault: FaultModel, name: str) -> Check:
    return next(check for check in fault.checks if check.id == name)


def _repair(fault: FaultModel, name: str) -> Repair:
    return next(repair for repair in fault.repairs if repair.id == name)


def _said_of(log: Log, check: str) -> str:
    said = [e for e in edited(log) if isinstance(e, Answered | ReadingNear) and e.check == check]
    if not said:
        return phrases.DONT_KNOW
    last = said[-1]
    return last.outcome if isinstance(last, Answered) else max(last.shares, key=lambda item: item[1])[0]
