"""A fault being hunted and an utterance -> the next check, repair or proof; the planner decides what, the rules say it."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace

from assistant.dialogue.cause_named import named_causes
from assistant.dialogue.check_reply import CheckReply, Miss, reply_to_check, sayings
from assistant.dialogue.planners import Isolators
from assistant.dialogue.replies import Reply, done_said, passed_said, reply_of
from assistant.domain.answer import Answer, Line, Outcome, Role
from assistant.domain.entries import Check, FaultModel, Repair
from assistant.domain.fault_log import (
    Answered,
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
)
from assistant.domain.guide import Isolating, Work
from assistant.domain.terms import Energy, EntryId
from assistant.domain.turn import Conversation, Pending, PendingKind
from assistant.domain.utterance import Utterance
from assistant.errors import IsolationError
from assistant.isolation import contradiction, counted, explain, read
from assistant.isolation.progress import edited
from assistant.recognition.readings import Reading, in_unit
from assistant.rules import phrases
from assistant.rules.guide_numbers import cause_name, likely_now, why_long
from assistant.rules.guide_pages import GuidePages, Page, check_pending
from assistant.rules.panel_lines import panel_line
from assistant.rules.verdict import Case, Rules

METER_SHARE = 0.01
"""Tolerance that a meter's reading is taken with: one in a hundred, as a hand meter of the trade has (common practice, no
source)."""
PROOF = "proof"
"""In place of a chosen repair, once that is done: what the technician has seen and mended is proved next."""
YES_NO = (phrases.YES, phrases.NO)
LIKENESS = 0.55
"""Cosine above which an answer in other words is asked back as the outcome it is nearest to; it is never just taken."""
MARGIN = 0.06
"""How much nearer than to any other outcome it must be."""
Turn = tuple[Answer, Conversation]
Alike = Callable[[str, Sequence[str]], Sequence[float]]
"""A text and others -> cosine with each."""


class Hunt:
    """Fault isolation in a conversation; holds no state of one."""

    def __init__(
        self,
        faults: Mapping[EntryId, FaultModel],
        rules: Rules,
        pages: GuidePages,
        isolator_of: Isolators,
        alike: Alike,
    ) -> None:
        """`isolator_of` gives the planner of a fault, with the weights that hold here; `alike` compares texts by sense."""
        self._alike = alike
        self._faults = faults
        self.rules = rules
        self._pages = pages
        self.isolator_of = isolator_of

    def fault(self, hunt: Isolating) -> FaultModel:
        """The fault being hunted."""
        return self._faults[hunt.fault]

    def decide(self, hunt: Isolating, energy: Energy) -> Decision:
        """What the planner wants next."""
        return self.isolator_of(self.fault(hunt)).decide(hunt.log, energy)

    # --- presenting what is due

    def present(self, utterance: Utterance, before: Conversation, notes: Sequence[Line] = ()) -> Turn:
        """The page of what is due now."""
        hunt = before.work.isolating
        assert hunt is not None
        page, over = self.page(hunt, before.state.energy)
        hunt = replace(hunt, over=over, missed=0, meant="")
        work = replace(before.work, isolating=hunt)
        after = replace(before, pending=page.pending, confirmed=(), work=work, asked="")
        after = replace(after, state=replace(after.state, step=page.step), focus=hunt.fault)
        case = Case(utterance=utterance, state=after.state, scope=after.scope)
        return self.rules.guided(case, page, (*notes, *self._learned(hunt), *self._doubts(hunt))), after

    def _learned(self, hunt: Isolating) -> tuple[Line, ...]:
        """Said once, at the beginning: that the weights lean on this site's closed jobs too."""
        jobs = self.isolator_of.jobs(self.fault(hunt))
        if hunt.log or not jobs:
            return ()
        return (Line(text=f"{phrases.LEARNED} {jobs}.", computed=(str(jobs),)),)

    def page(self, hunt: Isolating, energy: Energy) -> tuple[Page, str]:
        """The page of what is due, and how the hunt is over if it is."""
        fault = self.fault(hunt)
        isolator = self.isolator_of(fault)
        decision = isolator.decide(hunt.log, energy)
        told = explain(isolator.model, hunt.log, decision)
        if isinstance(decision.action, Finish):
            return self._pages.ended(fault, phrases.CURED, likely_now(fault, told)), "proved"
        if energy is Energy.UNKNOWN:
            lines = (*(Line(text=t, source=fault.full_id) for t in fault.meaning), *likely_now(fault, told))
            return self._pages.which_state(fault, lines), ""
        if hunt.chosen:
            return self._chosen_page(hunt, energy, decision), ""
        if isinstance(decision.step, ChangeState):
            return self._pages.change(fault, decision.step.start, decision.step.end, told), ""
        match decision.action:
            case DoCheck(check=name):
                return self._pages.check(fault, check_of(fault, name), energy, told), ""
            case DoRepair(repair=name):
                return self._pages.repair(fault, repair_of(fault, name), told), ""
            case Prove():
                return self._pages.proof(fault, told), ""
            case HandOver() | Finish():
                return self._pages.ended(fault, phrases.HAND_OVER, why_long(fault, told)), "handed over"

    def _chosen_page(self, hunt: Isolating, energy: Energy, decision: Decision) -> Page:
        """The repair of the cause that the technician has seen, then its proof, whatever the planner would do."""
        fault = self.fault(hunt)
        model = self.isolator_of(fault).model
        if hunt.chosen == PROOF:
            work: DoRepair | Prove = Prove(energy=model.proof_energy)
            needs = model.proof_energy
        else:
            repair = repair_of(fault, hunt.chosen)
            needs = energy if repair.energy is Energy.UNKNOWN else repair.energy
            work = DoRepair(repair=repair.id, energy=needs)
        told = replace(explain(model, hunt.log, replace(decision, action=work, step=work)), there=())
        if needs is not energy:
            return self._pages.change(fault, energy, needs, told)
        if isinstance(work, Prove):
            return self._pages.proof(fault, told)
        return self._pages.repair(fault, repair_of(fault, work.repair), None)

    def _doubts(self, hunt: Isolating) -> tuple[Line, ...]:
        """Answers that fit nothing, a surprise at the proof, something that is not on the list."""
        if hunt.over or not hunt.log:
            return ()
        fault = self.fault(hunt)
        model = self.isolator_of(fault).model
        found = contradiction(model, hunt.log)
        lines: list[Line] = []
        if found.alarm and found.suspects:
            name = found.suspects[0].check
            code = next((e.seen for e in counted(model, hunt.log) if e.check == name), "")
            lines.append(Line(text=phrases.CONTRADICTION))
            if code:
                lines.append(panel_line(fault, code, "."))
            else:
                text = f"{check_of(fault, name).title} ({_said_of(hunt.log, name)})."
                lines.append(Line(text=text, role=Role.ITEM, source=fault.full_id))
            lines.append(Line(text=phrases.READ_PANEL_AGAIN if code else phrases.RETAKE))
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
            return self.found(utterance, before, hunt, utterance.text)
        if energy is Energy.UNKNOWN:
            return None
        if hunt.chosen == PROOF:
            return self._proved(utterance, before, hunt) if self._may_prove(hunt, energy) else None
        decision = self.decide(hunt, energy)
        if hunt.chosen or (isinstance(decision.action, DoRepair) and not isinstance(decision.step, ChangeState)):
            name = hunt.chosen or (decision.action.repair if isinstance(decision.action, DoRepair) else "")
            return self._repaired(utterance, before, hunt, name)
        if isinstance(decision.step, ChangeState):
            return None
        match decision.action:
            case DoCheck(check=name):
                return self._checked(utterance, before, hunt, check_of(self.fault(hunt), name))
            case Prove():
                return self._proved(utterance, before, hunt)
            case _:
                return None

    def _checked(self, utterance: Utterance, before: Conversation, hunt: Isolating, check: Check) -> Turn | None:
        if hunt.meant:
            meant = reply_of(utterance.text)
            before = with_hunt(before, replace(hunt, meant=""))
            if meant is Reply.YES:
                return self.logged(utterance, before, Answered(check=check.id, outcome=hunt.meant))
            if meant is Reply.NO:
                return self._asked_again(utterance, before, phrases.AGAIN_OUTCOMES, check_pending(check, hunt.fault))
        reply = reply_to_check(utterance.text, check)
        if reply.outcome and not reply.sure:
            return self._asked_back(utterance, before, hunt, reply.outcome)
        event = self.event_of(utterance, before, check, reply)
        if isinstance(event, str):
            return self._asked_again(utterance, before, event, check_pending(check, hunt.fault))
        if event is None:
            return None
        return self.logged(utterance, before, event)

    def meant(self, utterance: Utterance, before: Conversation) -> Turn | None:
        """An answer in other words, near in sense to one outcome: asked back; None when it is near to none or to several."""
        hunt = before.work.isolating
        if hunt is None or before.state.energy is Energy.UNKNOWN:
            return None
        action = self.decide(hunt, before.state.energy).step
        if not isinstance(action, DoCheck):
            return None
        said = sayings(check_of(self.fault(hunt), action.check))
        best: dict[str, float] = {}
        for (_, label), cosine in zip(said, self._alike(utterance.text, [s for s, _ in said]), strict=True):
            best[label] = max(best.get(label, -1.0), float(cosine))
        order = sorted(best, key=lambda label: (-best[label], label))
        if best[order[0]] < LIKENESS or best[order[0]] - best[order[1]] < MARGIN:
            return None
        return self._asked_back(utterance, before, hunt, order[0])

    def _asked_back(self, utterance: Utterance, before: Conversation, hunt: Isolating, outcome: str) -> Turn:
        pending = Pending(kind=PendingKind.CHECK, text=f"{phrases.DO_YOU_MEAN} {outcome}?", choices=YES_NO)
        after = replace(with_hunt(before, replace(hunt, meant=outcome)), pending=pending)
        case = Case(utterance=utterance, state=before.state, scope=before.scope, pending=pending)
        return self.rules.asked_back(case, phrases.DO_YOU_MEAN, outcome, hunt.fault), after

    def event_of(
        self, utterance: Utterance, before: Conversation, check: Check, reply: CheckReply
    ) -> Event | str | None:
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
        next_chosen = PROOF if hunt.chosen else ""
        after = with_hunt(before, replace(hunt, chosen=next_chosen, log=(*hunt.log, Repaired(repair=name))))
        return self.present(utterance, after)

    def _proved(self, utterance: Utterance, before: Conversation, hunt: Isolating) -> Turn | None:
        passed = passed_said(utterance.text)
        if passed is None:
            return None
        before = with_hunt(before, replace(hunt, chosen=""))
        return self.logged(utterance, before, ProofPassed() if passed else ProofFailed())

    def _may_prove(self, hunt: Isolating, energy: Energy) -> bool:
        return energy is self.isolator_of(self.fault(hunt)).model.proof_energy

    def logged(self, utterance: Utterance, before: Conversation, event: Event, notes: Sequence[Line] = ()) -> Turn:
        """The page that follows once an event is in the log."""
        hunt = before.work.isolating
        assert hunt is not None
        after = with_hunt(before, replace(hunt, log=(*hunt.log, event), named=""))
        if isinstance(event, ProofFailed) and self._surprised(after):
            notes = (*notes, Line(text=phrases.SURPRISING))
        return self.present(utterance, after, notes)

    def _surprised(self, after: Conversation) -> bool:
        hunt = after.work.isolating
        assert hunt is not None
        isolator = self.isolator_of(self.fault(hunt))
        decision = isolator.decide(hunt.log, after.state.energy)
        return explain(isolator.model, hunt.log, decision).surprised

    def _asked_again(
        self, utterance: Utterance, before: Conversation, why: str, pending: Pending | None = None
    ) -> Turn:
        hunt = before.work.isolating
        assert hunt is not None
        pending = pending or before.pending
        after = replace(with_hunt(before, replace(hunt, missed=hunt.missed + 1)), pending=pending)
        case = Case(utterance=utterance, state=before.state, scope=before.scope, pending=pending)
        return self.rules.ask_again(case, why), after

    def ask_again(self, utterance: Utterance, before: Conversation) -> Turn:
        """Nothing that was said fits: the outcomes are named."""
        return self._asked_again(utterance, before, phrases.AGAIN_OUTCOMES)

    def found(self, utterance: Utterance, before: Conversation, hunt: Isolating, rest: str) -> Turn:
        """The technician has seen the cause: its repair comes next, whatever the planner thinks."""
        fault = self.fault(hunt)
        causes = named_causes(fault, rest)
        if len(causes) != 1:
            return self._which_cause(utterance, before, fault, causes)
        repair = max(fault.repairs, key=lambda r: (r.cures.get(causes[0], 0.0), -r.minutes))
        note = Line(text=f"{phrases.FOUND_CAUSE} {cause_name(fault, causes[0])}.", source=fault.full_id)
        return self.present(utterance, with_hunt(before, replace(hunt, chosen=repair.id)), (note,))

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
            pending=Pending(kind=PendingKind.CHECK, text=phrases.WHICH_CAUSE, choices=names, source=fault.full_id),
        )
        case = Case(utterance=utterance, state=before.state, scope=before.scope)
        return self.rules.guided(case, page), replace(before, pending=page.pending)


def with_hunt(before: Conversation, hunt: Isolating) -> Conversation:
    """The conversation with its hunt so far."""
    return replace(before, work=Work(isolating=hunt, pacing=before.work.pacing))


def check_of(fault: FaultModel, name: str) -> Check:
    """The fault's check of that id."""
    return next(check for check in fault.checks if check.id == name)


def repair_of(fault: FaultModel, name: str) -> Repair:
    """The fault's repair of that id."""
    return next(repair for repair in fault.repairs if repair.id == name)


def _said_of(log: Log, check: str) -> str:
    said = [e for e in edited(log) if isinstance(e, Answered | ReadingNear) and e.check == check]
    if not said:
        return phrases.DONT_KNOW
    last = said[-1]
    return last.outcome if isinstance(last, Answered) else max(last.shares, key=lambda item: item[1])[0]
