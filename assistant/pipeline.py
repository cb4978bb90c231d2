"""One turn: utterance and conversation -> answer and conversation, every stage of the design in its order."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from assistant.dialogue.calculating import Calculations
from assistant.dialogue.commands import Command, command_of, guide_to
from assistant.dialogue.follow_up import is_follow_up, standing_alone
from assistant.dialogue.guide import Guide
from assistant.dialogue.looking_up import Tables
from assistant.dialogue.machine_choice import equal_packs
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
POWER_HAZARDS = (Hazard.ELECTRIC_SHOCK, Hazard.ENTANGLEMENT, Hazard.CRUSHING)
"""What a person meets when power comes back on a machine that they worked in."""


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
        if self._asks_item(before):
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
            return self.guide.after_steps(utterance, turn)
        wish = guide_to(utterance.text)
        said = command_of(utterance.text)
        if wish:
            return self._begin_from(utterance, wish, before)
        if said is not None and said.command is Command.GUIDE and not before.work.going_on:
            target = self.guide.target(before.focus)
            return self.guide.nothing(utterance, before) if target is None else self.begin(utterance, before, target)
        return self.guide.no_question(utterance, before)

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
        return None if packs or target is None else self.guide.begin(utterance, before, target)

    def _asks_item(self, before: Conversation) -> bool:
        return before.pending is not None and energy_state.is_item(self.knowledge.energy, before.pending)

    # --- questions

    def _question(self, utterance: Utterance, before: Conversation) -> Turn:
        formulation, findings = self._found(utterance, before)
        before = energy_state.of_machine(before, self._machine_of(findings))
        case = Case(
            utterance=utterance,
            state=before.state,
            scope=before.scope,
            findings=findings,
            pending=before.pending,
            back_to=self.guide.back_to(before),
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
        return self._found(utterance, before)[1]

    def _found(self, utterance: Utterance, before: Conversation) -> tuple[Formulation, Findings]:
        """What is found for an utterance: for one that was heard unsurely, by all its readings together."""
        formulation, findings = self._find(self._searched(utterance), before)
        readings = utterance.heard.readings if utterance.heard is not None else ()
        if findings.query.exact or all(reading.text != utterance.text for reading in readings):
            return formulation, findings
        others = [(r.log_probability, self._find(r.text, before)[1]) for r in readings if r.text != utterance.text]
        own = next(r.log_probability for r in readings if r.text == utterance.text)
        return formulation, blended(findings, [(own, findings), *others])

    def _searched(self, utterance: Utterance) -> str:
        """What is searched for: the text, and after heard text the words that it may have been."""
        added = self._repair(utterance.text) if utterance.heard is not None else ""
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
        return replace(
            before,
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
        return self.rules.noted(case, (phrases.MACHINE_CHOSEN,)), chosen

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
            after = replace(before, pending=None, confirmed=(), asked="")
            case = Case(utterance=utterance, state=after.state, scope=before.scope)
            return self.rules.noted(case, (phrases.ISOLATION_STOPPED,), POWER_HAZARDS), after
        after = energy_state.confirm(self.knowledge.energy, before)
        if len(after.confirmed) == 1:  # the first item is that the supply is off: the wait runs from here
            after = replace(after, off_at_s=utterance.at_s)
        if after.pending is None and after.work.going_on:
            return self.guide.isolated(utterance, after)
        case = Case(utterance=utterance, state=after.state, scope=before.scope, pending=after.pending)
        if after.pending is not None or not before.asked:
            said = (phrases.MACHINE_CHOSEN,) if after.pending is not None else (phrases.ISOLATION_DONE,)
            return self.rules.noted(case, said), after
        answer, later = self._question(Utterance(text=before.asked, heard=utterance.heard), replace(after, asked=""))
        return answer, later

    def _declaration(self, utterance: Utterance, before: Conversation, energy: Energy) -> Turn:
        if before.work.going_on and energy is not Energy.ISOLATED:
            lead = phrases.POWER_BACK if energy_state.speaks_of_power(utterance.text) else phrases.STATE_NOTED
            return self.guide.declared(utterance, before, energy, (Line(text=lead),))
        if energy is Energy.ISOLATED:
            first = energy_state.next_item(self.knowledge.energy, (), before.scope)
            after = replace(before, pending=first, confirmed=(), asked=before.asked)
            case = Case(utterance=utterance, state=before.state, scope=before.scope, pending=first)
            return self.rules.noted(case, (phrases.ISOLATION_STARTS,)), after
        after = energy_state.void(before, energy)
        case = Case(utterance=utterance, state=after.state, scope=before.scope, pending=after.pending)
        isolated_before = before.state.energy is Energy.ISOLATED or before.confirmed
        if energy is Energy.STOPPED:
            said = phrases.MACHINE_STOPPED
        else:
            said = (
                phrases.POWER_BACK
                if isolated_before or energy_state.speaks_of_power(utterance.text)
                else phrases.MACHINE_RUNNING
            )
        hazards = POWER_HAZARDS if energy is Energy.RUNNING else (Hazard.ELECTRIC_SHOCK,)
        return self.rules.noted(case, (said,), hazards), after
