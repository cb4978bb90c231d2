"""One turn: utterance and conversation -> answer and conversation, every stage of the design in its order."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import lru_cache

from assistant.dialogue.calculating import Calculations
from assistant.dialogue.commands import Command, command_of, guide_to
from assistant.dialogue.follow_up import is_follow_up, standing_alone
from assistant.dialogue.guide import Guide
from assistant.dialogue.looking_up import Tables
from assistant.dialogue.machine_choice import equal_packs
from assistant.dialogue.panel import Shift
from assistant.dialogue.panel_words import codes_told
from assistant.dialogue.replies import Reply, asks_how_long, machine_of, reply_of, waited
from assistant.dialogue.table_wish import plainly_asked
from assistant.domain.answer import Answer, Line
from assistant.domain.draft import Draft
from assistant.domain.entries import Component, Fact
from assistant.domain.knowledge import KnowledgeBase
from assistant.domain.search import Findings, Hit, Query
from assistant.domain.stages import Composer, Retriever
from assistant.domain.terms import Energy, EntryId, Hazard
from assistant.domain.turn import Conversation
from assistant.domain.utterance import Utterance
from assistant.retrieval.blending import blended
from assistant.retrieval.formulation import Formulation, Formulator
from assistant.retrieval.passages import sentences_of_entry
from assistant.rules import energy_state, phrases
from assistant.rules.refusal import RefusalJudge
from assistant.rules.verdict import Case, Rules

Turn = tuple[Answer, Conversation]
Find = Callable[[str, Conversation], tuple[Formulation, Findings]]
POWER_HAZARDS = (Hazard.ELECTRIC_SHOCK, Hazard.ENTANGLEMENT, Hazard.CRUSHING)
"""What a person meets when power comes back on a machine that they worked in."""

REMEMBERED = 32
"""Readings of a sound whose findings are kept: the recogniser looks them up to choose among them, the turn right after it."""


class Assistant:
    """The stages put together; holds no state of a conversation."""

    def __init__(
        self,
        *,
        knowledge: KnowledgeBase,
        guide: Guide,
        calculations: Calculations,
        tables: Tables,
        formulator: Formulator,
        retriever: Retriever,
        composer: Composer,
        rules: Rules,
        judge: RefusalJudge,
        threshold: float,
        repair: Callable[[str], str] = lambda text: "",
    ) -> None:
        """`threshold`: the chance of being covered below which nothing is claimed.

        `repair`: text that was heard -> words that it may have been, for the search only.
        """
        self.knowledge = knowledge
        self.guide = guide
        self.calculations = calculations
        self.tables = tables
        self.formulator = formulator
        self.retriever = retriever
        self._composer = composer
        self.rules = rules
        self.judge = judge
        self._threshold = threshold
        self._repair = repair
        self._entries = {entry.full_id: entry for entry in knowledge.entries()}
        self._find_reading = lru_cache(maxsize=REMEMBERED)(self._find)

    def turn(self, utterance: Utterance, before: Conversation) -> Turn:
        """The answer to one utterance and what it leaves for the next."""
        if before.state.energy is Energy.ISOLATED and energy_state.speaks_of_power(utterance.text):
            before = energy_state.void(before, Energy.RUNNING)
            if energy_state.declared(utterance.text) is not None:
                return self._declaration(utterance, before, Energy.RUNNING)
        pack = machine_of(utterance.text, before.pending, self.knowledge.machines)
        if pack is not None:
            return self._machine_chosen(utterance, before, pack)
        reply = reply_of(utterance.text)
        if energy_state.asks_item(self.knowledge.energy, before):
            waited = self._waiting(utterance, before, reply)
            if waited is not None:
                return waited
            if reply is not None:
                return self._confirmation(utterance, before, reply)
        if reply is Reply.YES and self.guide.waits_for_one_state(before):
            return self.guide.said_yes_to_state(utterance, before)
        energy = energy_state.declared(utterance.text)
        if energy is not None:
            return self._declaration(utterance, before, energy)
        turn = self.calculations.take(utterance, before, self.guide.back_to(self.calculations.left(before)))
        if turn is not None:
            return turn
        before = self.calculations.left(before)
        return (
            self._guided(utterance, before)
            or self._calculation(utterance, before)
            or self._table(utterance, before)
            or self._question(utterance, before)
        )

    # --- calculations

    def _calculation(self, utterance: Utterance, before: Conversation) -> Turn | None:
        """A calculation that is asked for; None when there is none, or when the wish behind it is to be refused."""
        wish = self.calculations.wish(utterance.text)
        if wish is None:
            return None
        _, findings = self._find(utterance.text, before)
        if self.judge.judge(utterance.text, findings) is not None:
            return None
        return self.calculations.begin(utterance, before, wish, findings, self.guide.back_to(before))

    # --- tables

    def _table(self, utterance: Utterance, before: Conversation) -> Turn | None:
        """A row of a machine's tables that is asked for; None when there is none, or when the wish is to be refused."""
        wish = self.tables.wish(utterance.text, self.formulator.formulate(utterance.text, before.scope).query)
        if wish is None:
            return None
        _, findings = self._find(utterance.text, before)
        if not plainly_asked(utterance.text) and self.judge.judge(utterance.text, findings) is not None:
            return None
        return self.tables.tell(utterance, before, wish, findings, self.guide.back_to(before))

    # --- guided work

    def _guided(self, utterance: Utterance, before: Conversation) -> Turn | None:
        """Guided work: begun, gone on with, or asked again; None for a question of its own."""
        turn = self.guide.take(utterance, before)
        if turn is not None:
            return self.guide.after_steps(utterance, before, turn)
        wish = guide_to(utterance.text)
        said = command_of(utterance.text)
        if wish:
            return self._begin_from(utterance, wish, before)
        if said is not None and said.command is Command.GUIDE and not before.work.going_on:
            target = self.guide.target(before.focus)
            if target is None:
                return self.guide.nothing(utterance, before)
            return self.guide.begin(utterance, before, target, self.guide.shown("", before.focus))
        return self._panel(utterance, before) or self.guide.no_question(utterance, before)

    def _panel(self, utterance: Utterance, before: Conversation) -> Turn | None:
        """What the panel is said to show in the middle of a hunt: it is evidence, and a code is told and leads back."""
        shift = self.guide.panel_says(utterance, before)
        if shift is None:
            return None
        if not shift.asks:
            return self.guide.panel_page(utterance, shift)
        _, findings = self._found(utterance, before)
        if self.judge.judge(findings.query.text, findings) is not None:
            return self._question(utterance, before)  # refused; what is said beside a wish like that is not counted
        return self._question(utterance, shift.after, shift)

    def resumed(self, before: Conversation) -> Turn:
        """The page of the work that a job was left at."""
        return self.guide.present(Utterance(text=Command.WHERE), before)

    def begin(self, utterance: Utterance, before: Conversation, entry: EntryId) -> Turn:
        """Guided work on an entry named by its id."""
        return self.guide.begin(utterance, before, entry)

    def _begin_from(self, utterance: Utterance, wish: str, before: Conversation) -> Turn | None:
        """Guided work on what a wish is about; None when it is refused, covered by nothing, or nothing to be led through."""
        _, findings = self._find(wish, before)
        if self.judge.judge(utterance.text, findings) is not None or not findings.hits:
            return None
        if findings.covered < self._threshold and not findings.query.exact:
            return None
        packs = equal_packs(findings, self.knowledge.machines, before)
        target = self.guide.target(findings.hits[0].entry)
        if packs or target is None:
            return None
        return self.guide.begin(utterance, before, target, self.guide.shown(wish, findings.hits[0].entry))

    # --- questions

    def _question(self, utterance: Utterance, before: Conversation, shift: Shift | None = None) -> Turn:
        """The answer to a question, or what is to be told of a code that was evidence in a hunt."""
        led = () if shift is None else (*shift.lines, *shift.due)
        if shift is None or not shift.due:
            led = (*led, *self.guide.back_to(before))
        if shift is None:
            formulation, findings = self._found(utterance, before)
        else:  # a code that was seen stands for itself: what was told before it is no subject of it
            formulation, findings = self._find(shift.asks, replace(before, focus=None))
        before = energy_state.of_machine(before, self._machine_of(findings))
        case = Case(
            utterance=utterance,
            state=before.state,
            scope=before.scope,
            findings=findings,
            pending=before.pending,
            back_to=led,
        )
        refused = self.judge.judge(findings.query.text, findings)
        if refused is not None:
            return self.rules.refused(case, refused.refusal), before
        if formulation.unknown_codes and not findings.query.exact:
            return self.rules.not_covered(case, formulation.unknown_codes), before
        if not findings.hits or (findings.covered < self._threshold and not findings.query.exact):
            return self.rules.not_covered(case), before
        packs = equal_packs(findings, self.knowledge.machines, before)
        if packs:
            answer = self.rules.which_machine(case, packs)
            return answer, replace(before, pending=answer.pending, asked=utterance.text)
        answer = self.rules.answered(case, self._draft(utterance.text, findings))
        return answer, self._after(answer, findings, before, utterance.text)

    def _machine_of(self, findings: Findings) -> str | None:
        pack = findings.hits[0].entry.split("/", 1)[0] if findings.hits else ""
        return pack if any(machine.pack == pack for machine in self.knowledge.machines) else None

    def told(self, entry: EntryId, question: str, before: Conversation) -> Turn:
        """The answer from one entry named by its id."""
        query = Query(text=question, terms=(), scope=before.scope, exact=(entry,))
        findings = Findings(query=query, hits=(Hit(entry=entry, score=1.0),), covered=1.0)
        before = energy_state.of_machine(before, self._machine_of(findings))
        case = Case(
            utterance=Utterance(text=question), state=before.state, scope=before.scope, findings=findings, full=True
        )
        answer = self.rules.answered(case, Draft(sentences=(), composer="rules"))
        return answer, self._after(answer, findings, before, question)

    def looked_up(self, utterance: Utterance, before: Conversation) -> Findings:
        """What would be found for an utterance; nothing is answered and nothing kept."""
        return self._found(utterance, before, self._find_reading)[1]

    def _found(
        self, utterance: Utterance, before: Conversation, find: Find | None = None
    ) -> tuple[Formulation, Findings]:
        """What is found for an utterance: for one that was heard unsurely, by all its readings together."""
        readings = utterance.heard.readings if utterance.heard is not None else ()
        find = find or (self._find_reading if readings else self._find)
        formulation, findings = find(self._searched(utterance), before)
        if findings.query.exact or all(reading.text != utterance.text for reading in readings):
            return formulation, findings
        others = [(r.log_probability, find(r.text, before)[1]) for r in readings if r.text != utterance.text]
        own = next(r.log_probability for r in readings if r.text == utterance.text)
        return formulation, blended(findings, [(own, findings), *others])

    def _searched(self, utterance: Utterance) -> str:
        """What is searched for: the text, and after heard text that has no other readings the words that it may have been."""
        heard = utterance.heard
        added = self._repair(utterance.text) if heard is not None and not heard.readings else ""
        return f"{utterance.text} ({added})" if added else utterance.text

    def _find(self, text: str, before: Conversation) -> tuple[Formulation, Findings]:
        formulation = self.formulator.formulate(text, before.scope)
        findings = self.retriever.search(formulation.query)
        if before.focus not in self._entries or not is_follow_up(text, formulation.query, before):
            return formulation, findings
        assert before.focus is not None
        subject = self._entries[before.focus]
        first = next((hit for hit in findings.hits if hit.entry in getattr(subject, "see", ())), None)
        if first is not None:
            hits = (first, *(hit for hit in findings.hits if hit is not first))
            return formulation, replace(findings, hits=hits, covered=max(findings.covered, self._threshold))
        formulation = self.formulator.formulate(standing_alone(text, subject.title), before.scope)
        return formulation, self.retriever.search(formulation.query)

    def _draft(self, text: str, findings: Findings) -> Draft:
        entry = self._entries[findings.hits[0].entry]
        if not isinstance(entry, (Fact, Component)):
            return Draft(sentences=(), composer="rules")
        sentences = [s for s in sentences_of_entry(entry) if s.section != "danger"]
        return self._composer.compose(text, sentences)

    def _after(self, answer: Answer, findings: Findings, before: Conversation, text: str) -> Conversation:
        focus: EntryId = findings.hits[0].entry
        waits = answer.pending is not None and answer.pending != before.pending
        step = f"{focus}#0" if waits else before.state.step
        shown = () if before.work.going_on else codes_told(text)
        return replace(
            before,
            shown=tuple(dict.fromkeys((*before.shown, *shown))),
            focus=focus,
            pending=answer.pending,
            confirmed=() if waits else before.confirmed,
            asked=text if waits else before.asked,
            state=replace(before.state, step=step),
        )

    # --- answers to what is pending, and declarations

    def _machine_chosen(self, utterance: Utterance, before: Conversation, pack: str) -> Turn:
        chosen = replace(before, scope=pack, pending=None, asked="")
        if before.asked:
            asked = Utterance(text=before.asked, heard=utterance.heard)
            return self._table(asked, chosen) or self._question(asked, chosen)
        case = Case(utterance=utterance, state=before.state, scope=pack)
        return self.rules.machine_chosen(case, pack), chosen

    def _waiting(self, utterance: Utterance, before: Conversation, reply: Reply | None) -> Turn | None:
        """What is said to a wait that is counted down: what is left of it, or its end; None for anything else."""
        wait_s = energy_state.wait_asked(self.knowledge.energy, before)
        if not wait_s:
            return None
        if waited(utterance.text):
            return self._confirmation(utterance, before, Reply.YES)
        if utterance.at_s is None or before.off_at_s is None:
            return None
        left_s = before.off_at_s + wait_s - utterance.at_s
        if left_s <= 0 or (reply is not Reply.YES and not asks_how_long(utterance.text)):
            return None
        case = Case(utterance=utterance, state=before.state, scope=before.scope, pending=before.pending)
        return self.rules.wait_left(case, left_s), before

    def _confirmation(self, utterance: Utterance, before: Conversation, reply: Reply) -> Turn:
        if reply is not Reply.YES:
            return self._not_so(utterance, before)
        item = energy_state.item_asked(self.knowledge.energy, before)
        after = energy_state.confirm(self.knowledge.energy, before)
        if len(after.confirmed) == 1:  # the first item is that the supply is off: the wait runs from here
            after = replace(after, off_at_s=utterance.at_s)
        if after.pending is None and after.work.going_on:
            return self.guide.isolated(utterance, after)
        case = Case(utterance=utterance, state=after.state, scope=before.scope, pending=after.pending)
        if after.pending is not None:
            left = len(self.knowledge.energy.items(after.scope)) - len(after.confirmed)
            if item is None or not after.confirmed:  # of another machine, or out of its turn: nothing was taken
                return self.rules.noted(case, (phrases.ISOLATION_STARTS,)), after
            return self.rules.item_confirmed(case, item, left), after
        if not before.asked:
            return self.rules.noted(case, (phrases.ISOLATION_DONE,)), after
        answer, later = self._question(Utterance(text=before.asked, heard=utterance.heard), replace(after, asked=""))
        return answer, later

    def _not_so(self, utterance: Utterance, before: Conversation) -> Turn:
        """An item is not so: it waits for its yes, and what was confirmed stands until a proof is asked for or was given."""
        void = energy_state.proving(self.knowledge.energy, before)
        after = replace(before, pending=None, confirmed=(), asked="") if void else before
        case = Case(utterance=utterance, state=after.state, scope=before.scope, pending=after.pending)
        said = (phrases.ISOLATION_STOPPED, phrases.NOT_DEAD if void else phrases.SAY_YES_THEN)
        return self.rules.noted(case, said, POWER_HAZARDS), after

    def _declaration(self, utterance: Utterance, before: Conversation, energy: Energy) -> Turn:
        if before.work.going_on and energy is not Energy.ISOLATED:
            return self.guide.declared(
                utterance, before, energy, (Line(text=self._state_said(utterance, before, energy)),)
            )
        if energy is Energy.ISOLATED:
            first = energy_state.next_item(self.knowledge.energy, (), before.scope)
            after = replace(before, pending=first, confirmed=(), asked=before.asked)
            case = Case(utterance=utterance, state=before.state, scope=before.scope, pending=first)
            return self.rules.noted(case, (phrases.ISOLATION_STARTS,)), after
        after = energy_state.void(before, energy)
        case = Case(utterance=utterance, state=after.state, scope=before.scope, pending=after.pending)
        said = self._state_said(utterance, before, energy)
        hazards = POWER_HAZARDS if energy is Energy.RUNNING else (Hazard.ELECTRIC_SHOCK,)
        return self.rules.noted(case, (said,), hazards), after

    @staticmethod
    def _state_said(utterance: Utterance, before: Conversation, energy: Energy) -> str:
        """What a declaration of a state that is not isolated means."""
        if energy is Energy.STOPPED:
            return phrases.MACHINE_STOPPED
        isolated_before = before.state.energy is Energy.ISOLATED or bool(before.confirmed)
        back = isolated_before or energy_state.speaks_of_power(utterance.text)
        return phrases.POWER_BACK if back else phrases.MACHINE_RUNNING
