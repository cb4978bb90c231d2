"""A command while a fault is hunted -> back, skip, why, what else, check again, a correction."""

from __future__ import annotations

from dataclasses import replace

from assistant.dialogue.check_reply import reply_to_check
from assistant.dialogue.commands import Command, Said
from assistant.dialogue.hunt import PROOF, Hunt, Turn, check_of, with_hunt
from assistant.domain.answer import Line
from assistant.domain.fault_log import (
    Answered,
    CantCheck,
    CantRepair,
    DoCheck,
    DontKnow,
    DoRepair,
    Event,
    ReadingNear,
    Revised,
)
from assistant.domain.fault_log import Said as SaidOfCheck
from assistant.domain.guide import Isolating
from assistant.domain.turn import Conversation
from assistant.domain.utterance import Utterance
from assistant.isolation import contradiction, explain
from assistant.rules import phrases
from assistant.rules.guide_numbers import left, likely_now, options, why_long
from assistant.rules.guide_pages import Page
from assistant.rules.panel_lines import panel_line
from assistant.rules.verdict import Case


class Steering:
    """The commands of a hunt."""

    def __init__(self, hunt: Hunt) -> None:
        """Steer this hunt."""
        self.hunt = hunt

    def steer(self, utterance: Utterance, before: Conversation, said: Said) -> Turn | None:
        """Why, what else, back, skip, check again, found it, how far; None for a command that means nothing here."""
        hunt = before.work.isolating
        assert hunt is not None
        match said.command:
            case Command.REPEAT | Command.WHERE | Command.NEXT:
                return self.hunt.present(utterance, before)
            case Command.BACK:
                return self._back(utterance, before, hunt)
            case Command.SKIP:
                return self._skip(utterance, before, hunt)
            case Command.AGAIN:
                return self._again(utterance, before, hunt)
            case Command.WHY | Command.ELSE | Command.HOW_FAR:
                return self._told(utterance, before, hunt, said.command)
            case Command.FOUND:
                return self.hunt.found(utterance, before, hunt, said.rest)
            case _:
                return None

    def _back(self, utterance: Utterance, before: Conversation, hunt: Isolating) -> Turn:
        """The last answer is taken back and its check opened; the log only grows, as the record does."""
        if hunt.chosen:
            return self.hunt.present(utterance, with_hunt(before, replace(hunt, chosen="")))
        last = hunt.log[-1] if hunt.log else None
        if not isinstance(last, Answered | ReadingNear | DontKnow | CantCheck):
            why = phrases.NO_BACK if last is None or isinstance(last, Revised) else phrases.NO_BACK_WORK
            return self.hunt.present(utterance, before, (Line(text=why),))
        opened = replace(hunt, log=(*hunt.log, Revised(check=last.check, to=None)))
        code = last.seen if isinstance(last, Answered | ReadingNear) else ""
        notes = (panel_line(self.hunt.fault(hunt), code, phrases.CODE_GONE),) if code else ()
        return self.hunt.present(utterance, with_hunt(before, opened), notes)

    def _skip(self, utterance: Utterance, before: Conversation, hunt: Isolating) -> Turn:
        if hunt.chosen == PROOF:
            return self.hunt.present(utterance, before, (Line(text=phrases.NO_SKIP),))
        if hunt.chosen:
            withdrawn: Event = CantRepair(repair=hunt.chosen)
            return self.hunt.logged(utterance, with_hunt(before, replace(hunt, chosen="")), withdrawn)
        match self.hunt.decide(hunt, before.state.energy).action:
            case DoCheck(check=name):
                return self.hunt.logged(utterance, before, CantCheck(check=name))
            case DoRepair(repair=name):
                return self.hunt.logged(utterance, before, CantRepair(repair=name))
            case _:
                return self.hunt.present(utterance, before, (Line(text=phrases.NO_SKIP),))

    def _again(self, utterance: Utterance, before: Conversation, hunt: Isolating) -> Turn:
        """The most suspect answer, else the last one, is taken back and its check opened again."""
        answered = [e.check for e in self._answers(hunt)]
        if not answered:
            return self.hunt.present(utterance, before, (Line(text=phrases.NOTHING_TO_CORRECT),))
        found = contradiction(self.hunt.isolator_of(self.hunt.fault(hunt)).model, hunt.log)
        suspect = found.suspects[0].check if found.alarm and found.suspects else ""
        if suspect and suspect not in {check.id for check in self.hunt.fault(hunt).checks}:
            return self.hunt.present(utterance, before, (Line(text=phrases.READ_PANEL_AGAIN),))
        name = suspect or answered[-1]
        revised = replace(hunt, log=(*hunt.log, Revised(check=name, to=None)))
        return self.hunt.present(utterance, with_hunt(before, revised))

    def _answers(self, hunt: Isolating) -> list[SaidOfCheck]:
        """What was said of the authored checks; a code on the panel is no answer that could be given anew."""
        own = {check.id for check in self.hunt.fault(hunt).checks}
        return [e for e in hunt.log if isinstance(e, SaidOfCheck) and e.check in own]

    def correct(self, utterance: Utterance, before: Conversation, rest: str) -> Turn | None:
        """The last answer is replaced ("no wait, it was on"); None when the rest fits no outcome of that check."""
        hunt = before.work.isolating
        assert hunt is not None
        said = self._answers(hunt)
        if not said:
            return None
        check = check_of(self.hunt.fault(hunt), said[-1].check)
        event = self.hunt.event_of(utterance, before, check, reply_to_check(rest, check))
        if not isinstance(event, Answered | ReadingNear | DontKnow | CantCheck):
            return None
        after = with_hunt(before, replace(hunt, log=(*hunt.log, Revised(check=check.id, to=event))))
        outcome = event.outcome if isinstance(event, Answered) else rest
        note = Line(text=f"{phrases.CORRECTED} {check.title} ({outcome}).", source=hunt.fault)
        return self.hunt.present(utterance, after, (note,))

    def _told(self, utterance: Utterance, before: Conversation, hunt: Isolating, what: Command) -> Turn:
        fault = self.hunt.fault(hunt)
        isolator = self.hunt.isolator_of(fault)
        decision = isolator.decide(hunt.log, before.state.energy)
        told = explain(isolator.model, hunt.log, decision)
        if what is Command.WHY:
            notes: tuple[Line, ...] = why_long(fault, told)
        elif what is Command.HOW_FAR:
            notes = (left(fault, told.minutes_left),)
        else:
            others = [(o.action, o.minutes_left) for o in decision.options if o.action != decision.action]
            notes = (*likely_now(fault, told), *options(fault, others[:4]))
        page, _ = self.hunt.page(hunt, before.state.energy)
        short = Page(
            lead=page.lead,
            source=page.source,
            lines=notes,
            outcome=page.outcome,
            pending=page.pending,
        )
        case = Case(utterance=utterance, state=before.state, scope=before.scope)
        return self.hunt.rules.guided(case, short), replace(before, pending=page.pending)
