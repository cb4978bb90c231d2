"""Guided work in a conversation: what goes to the hunt, what to the steps, and what is a question in the middle."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from assistant.dialogue.commands import Command, Said, command_of, correction_of
from assistant.dialogue.hunt import Alike, Hunt, asked_again
from assistant.dialogue.hunt_steering import Steering
from assistant.dialogue.pacing import Steps
from assistant.dialogue.panel import Panel, Shift
from assistant.dialogue.panel_words import sighting_of
from assistant.dialogue.planners import Isolators
from assistant.dialogue.replies import is_question
from assistant.domain.answer import Answer, Line, Outcome, Role
from assistant.domain.entries import Code, Entry, FaultModel, Procedure
from assistant.domain.guide import Isolating, Pacing, Work
from assistant.domain.knowledge import KnowledgeBase
from assistant.domain.terms import Energy, EntryId
from assistant.domain.turn import Conversation, PendingKind
from assistant.domain.utterance import Utterance
from assistant.recognition.readings import is_unit, placed_readings
from assistant.recognition.spoken_forms import codes_in
from assistant.rules import energy_state, phrases
from assistant.rules.body import ENERGY_SOURCE
from assistant.rules.guide_pages import GuidePages, Page
from assistant.rules.unfinished import unproved
from assistant.rules.verdict import Case, Rules

Turn = tuple[Answer, Conversation]
SHORT = 4
"""An utterance of more words that fits no outcome is taken for a question before it is asked again."""
_ITEM_AGAIN = (Command.NEXT, Command.SKIP, Command.REPEAT, Command.WHERE)
"""Commands that say the item again; the others mean the hunt that it is asked for."""
_SPOKEN_STATE = {"running": Energy.RUNNING, "stopped": Energy.STOPPED, "isolated": Energy.ISOLATED}


class Guide:
    """Leads through hunts and procedures; holds no state of a conversation."""

    def __init__(
        self,
        knowledge: KnowledgeBase,
        rules: Rules,
        isolator_of: Isolators,
        alike: Alike,
    ) -> None:
        """`isolator_of` gives the planner of a fault, `alike` compares an answer with sayings by their sense."""
        self.isolator_of = isolator_of
        self._rules = rules
        self._energy = knowledge.energy
        self._pages = GuidePages(knowledge, rules.safety)
        self._entries: dict[EntryId, Entry] = {entry.full_id: entry for entry in knowledge.entries()}
        self._machines = {machine.pack for machine in knowledge.machines}
        self.hunt = Hunt({f.full_id: f for f in knowledge.faults}, rules, self._pages, isolator_of, alike)
        self.steering = Steering(self.hunt)
        self.panel = Panel(self.hunt, {(code.pack, code.id) for code in knowledge.codes}, knowledge.energy)
        self.steps = Steps({p.full_id: p for p in knowledge.procedures}, rules, self._pages)

    # --- beginning

    def target(self, entry: EntryId | None) -> EntryId | None:
        """What can be led through from an entry: a fault with checks or a procedure, itself or the first that it names."""
        item = self._entries.get(entry) if entry is not None else None
        if item is None:
            return None
        named = (item.full_id, *(EntryId(s) for s in getattr(item, "see", ())))
        if isinstance(item, Code):
            speaking = [f.full_id for f in self._entries.values() if isinstance(f, FaultModel) and item.id in f.codes]
            linked = [s for s in named if isinstance(self._entries.get(s), FaultModel)]
            named = (*linked, *(f for f in speaking if f.split("/", 1)[0] == item.pack), *named)
        for name in named:
            found = self._entries.get(name)
            if isinstance(found, Procedure) or (isinstance(found, FaultModel) and found.repairs):
                return name
        return None

    def begin(self, utterance: Utterance, before: Conversation, entry: EntryId, codes: Sequence[str] = ()) -> Turn:
        """The first page of a hunt or a procedure; a procedure lies on top of the hunt that it was begun from.

        `codes` stand on the panel: what they tell of the fault's causes counts from the beginning.
        """
        item = self._entries[entry]
        pack = item.full_id.split("/", 1)[0]
        scope = pack if pack in self._machines else before.scope
        before = replace(energy_state.of_machine(before, scope), scope=scope)
        if isinstance(item, Procedure):
            work = Work(isolating=before.work.isolating, pacing=Pacing(procedure=entry))
            notes = [Line(text=text, source=entry) for text in (*item.purpose, *item.before)]
            return self.steps.present(utterance, replace(before, work=work), notes)
        hunt, seen = self.panel.begun(Isolating(fault=entry), tuple(dict.fromkeys((*before.shown, *codes))))
        return self.hunt.present(utterance, replace(before, work=Work(isolating=hunt), shown=()), seen)

    def shown(self, text: str, entry: EntryId | None) -> tuple[str, ...]:
        """Codes that stand on the panel where somebody wants to be led: named in the words, or the entry asked about before."""
        said = sighting_of(text, alone=True)
        named = said.codes if said is not None and not said.gone else ()
        item = self._entries.get(entry) if entry is not None else None
        return tuple(dict.fromkeys((*named, *((item.id,) if isinstance(item, Code) else ()))))

    def nothing(self, utterance: Utterance, before: Conversation) -> Turn:
        """A command of guided work although nothing goes on and nothing was named."""
        case = Case(utterance=utterance, state=before.state, scope=before.scope, pending=before.pending)
        return self._rules.noted(case, (phrases.NOTHING_TO_GUIDE,)), before

    # --- going on

    def present(self, utterance: Utterance, before: Conversation, notes: Sequence[Line] = ()) -> Turn:
        """What is due now."""
        if before.work.pacing is not None:
            return self.steps.present(utterance, before, notes)
        return self.hunt.present(utterance, before, notes)

    def isolated(self, utterance: Utterance, before: Conversation) -> Turn:
        """Every isolation item is confirmed: go on where it was needed."""
        if before.work.pacing is not None:
            return self.steps.isolated(utterance, before)
        return self.hunt.present(utterance, before, (Line(text=phrases.ISOLATION_DONE),))

    def take(self, utterance: Utterance, before: Conversation) -> Turn | None:
        """What an utterance does to the work that goes on; None when it is a question of its own.

        A figure that was said without its unit waits for it.
        """
        if not before.work.going_on:
            return None
        if before.figure and is_unit(utterance.text):
            utterance = replace(utterance, text=f"{before.figure} {utterance.text}")
        turn = self._take(utterance, replace(before, figure=""))
        if turn is None or turn[0].lead != phrases.AGAIN_NO_UNIT:
            return turn
        return turn[0], replace(turn[1], figure=utterance.text)

    def _take(self, utterance: Utterance, before: Conversation) -> Turn | None:
        said = command_of(utterance.text)
        if said is not None:
            return self._steer(utterance, before, said)
        if self.panel.comes_first(utterance.text, before):
            return None
        if before.work.pacing is not None and not self._waits_for_state(before):
            return self.steps.take(utterance, before)
        rest = correction_of(utterance.text) if before.work.pacing is None else ""
        if rest:
            corrected = self.steering.correct(utterance, before, rest)
            if corrected is not None:
                return corrected
        if self._waits_for_state(before):
            energy = _SPOKEN_STATE.get(utterance.text.strip(" .!").lower())
            return None if energy is None else self.declared(utterance, before, energy, ())
        if rest:
            taken = self.hunt.take(replace(utterance, text=rest), before)
            return taken or self._corrects_nothing(utterance, before)
        return self.hunt.take(utterance, before)

    def _waits_for_state(self, before: Conversation) -> bool:
        pending = before.pending
        return pending is not None and pending.text in (phrases.WHICH_STATE, phrases.SAY_WHEN)

    def said_yes_to_state(self, utterance: Utterance, before: Conversation) -> Turn:
        """Yes or done to "say when it is running": the state that was asked for is declared."""
        assert before.pending is not None
        return self.declared(utterance, before, _SPOKEN_STATE[before.pending.choices[0]], ())

    def waits_for_one_state(self, before: Conversation) -> bool:
        """Whether a plain yes would declare a state."""
        return before.pending is not None and before.pending.text == phrases.SAY_WHEN

    def declared(self, utterance: Utterance, before: Conversation, energy: Energy, notes: Sequence[Line]) -> Turn:
        """A state was declared: isolation is confirmed item by item, any other is taken and the work goes on."""
        if energy is Energy.ISOLATED:
            first = energy_state.next_item(self._energy, (), before.scope)
            after = replace(before, pending=first, confirmed=())
            case = Case(utterance=utterance, state=before.state, scope=before.scope, pending=first)
            return self._rules.noted(case, (phrases.ISOLATION_STARTS,)), after
        return self.present(utterance, energy_state.void(before, energy), notes)

    def _steer(self, utterance: Utterance, before: Conversation, said: Said) -> Turn | None:
        if said.command is Command.STOP:
            return self._stop(utterance, before)
        if said.command is Command.STEPS and before.work.isolating is not None and before.work.pacing is None:
            return self._into_procedure(utterance, before)
        if energy_state.asks_item(self._energy, before):
            if said.command is Command.BACK and before.confirmed:
                return self._item_back(utterance, before)
            withdraws = said.command is Command.SKIP and not before.confirmed  # what needs the isolation is left out
            if before.work.pacing is not None or (said.command in _ITEM_AGAIN and not withdraws):
                return self._item_again(utterance, before, said.command)
        if before.work.pacing is not None:
            return self.steps.steer(utterance, before, said)
        return self.steering.steer(utterance, before, said)

    def _item_again(self, utterance: Utterance, before: Conversation, command: Command) -> Turn:
        passing = command in (Command.NEXT, Command.SKIP)
        left = str(len(self._energy.items(before.scope)) - len(before.confirmed))
        lead: Line | str = phrases.NO_ITEM_SKIP if passing else phrases.ISOLATION_STARTS
        if command is Command.HOW_FAR:
            lead = Line(text=f"{left} {phrases.ITEMS_LEFT}", computed=(left,))
        case = Case(utterance=utterance, state=before.state, scope=before.scope, pending=before.pending)
        return self._rules.noted(case, (lead,)), before

    def _item_back(self, utterance: Utterance, before: Conversation) -> Turn:
        """The item that was confirmed last is taken back and asked again."""
        after, item = energy_state.take_back(self._energy, before)
        case = Case(utterance=utterance, state=after.state, scope=after.scope, pending=after.pending)
        told = Line(text=f"{phrases.ITEM_BACK} {item.done}.", source=ENERGY_SOURCE)
        return self._rules.noted(case, (told,)), after

    def _into_procedure(self, utterance: Utterance, before: Conversation) -> Turn:
        """From a repair into the procedure that describes it."""
        hunt = before.work.isolating
        assert hunt is not None
        fault = self.hunt.fault(hunt)
        part = (before.state.step or "").rpartition("#")[2]
        named = next((r.procedure for r in fault.repairs if r.id == part and r.procedure), "")
        if not named:
            return self.hunt.present(utterance, before)
        return self.begin(utterance, before, EntryId(named))

    def after_steps(self, utterance: Utterance, before: Conversation, turn: Turn) -> Turn:
        """When a procedure is through and a hunt waits below it, the hunt's page follows."""
        answer, after = turn
        if before.work.pacing is None:
            return turn
        if answer.outcome is Outcome.DONE and after.work.pacing is None and after.work.going_on:
            return self.hunt.present(utterance, after, (Line(text=phrases.PROCEDURE_DONE),))
        return turn

    def _stop(self, utterance: Utterance, before: Conversation) -> Turn:
        """Leave in the middle: what state the machine is in, what is not finished, what must not be done."""
        pace = before.work.pacing
        unfinished = self.steps.unfinished(pace, before.state.energy) if pace is not None else ()
        hunt = before.work.isolating
        if hunt is not None:
            done = unproved(self.hunt.fault(hunt), hunt.log)
            head = (Line(text=phrases.DONE_UNPROVED, role=Role.HEADING),) if done else ()
            items = (Line(text=f"{title}.", role=Role.ITEM, source=hunt.fault) for title in done)
            unfinished = (*unfinished, *head, *items)
        source = pace.procedure if pace is not None else before.work.isolating.fault  # type: ignore[union-attr]
        page = Page(
            lead=phrases.STOPPED_HERE,
            source=source,
            lines=self._pages.leaving(before.state.energy, unfinished),
            outcome=Outcome.DONE,
            pending=None,
        )
        work = Work(isolating=None if hunt is None else replace(hunt, over="left open"), pacing=None)
        after = replace(before, pending=None, confirmed=(), work=work, state=replace(before.state, step=None))
        case = Case(utterance=utterance, state=after.state, scope=after.scope)
        return self._rules.guided(case, page), after

    # --- the panel

    def panel_says(self, utterance: Utterance, before: Conversation) -> Shift | None:
        """What an utterance says of the panel, as evidence in the hunt that goes on; None when it says nothing of it."""
        word = self.panel.word(utterance.text, before)
        return None if word is None else self.panel.take(word, before)

    def panel_page(self, utterance: Utterance, shift: Shift) -> Turn:
        """What a panel without a code, or a code that is gone, leaves; then what is due."""
        after = shift.after
        if not self.panel.waits(after):
            return self.hunt.present(utterance, after, shift.lines)
        assert after.work.isolating is not None
        page = Page(
            lead=phrases.PANEL_NOTED,
            source=after.work.isolating.fault,
            lines=(*shift.lines, *self.back_to(after)),
            outcome=Outcome.DONE,
            pending=after.pending,
        )
        case = Case(utterance=utterance, state=after.state, scope=after.scope)
        return self._rules.guided(case, page), after

    # --- a question in the middle

    def no_question(self, utterance: Utterance, before: Conversation) -> Turn | None:
        """An answer in other words is asked back, a short one that fits nothing asked again; None for a question of its own."""
        text = utterance.text.strip().lower()
        pending = before.pending
        if not before.work.going_on or pending is None or pending.kind is PendingKind.MACHINE or is_question(text):
            return None
        reads = pending.kind is PendingKind.READING  # there "it shows 204" may be what the meter shows
        if any(mention.certain or (mention.named and not reads) for mention in codes_in(text)):
            return None  # a code that comes up in the middle is told, and leads back
        if before.work.pacing is None and not self._waits_for_state(before):
            meant = self.hunt.meant(utterance, before)
            if meant is not None:
                return meant
        if not reads and _only_a_reading(text):
            case = Case(utterance=utterance, state=before.state, scope=before.scope, pending=pending)
            return self._rules.ask_again(case, phrases.NO_READING_NOW), before
        return self.ask_again(utterance, before) if len(text.split()) <= SHORT else None

    def ask_again(self, utterance: Utterance, before: Conversation) -> Turn:
        """The outcomes are named."""
        if (
            before.work.pacing is None
            and not self._waits_for_state(before)
            and not energy_state.asks_item(self._energy, before)
        ):
            return self.hunt.ask_again(utterance, before)
        case = Case(utterance=utterance, state=before.state, scope=before.scope, pending=before.pending)
        why = phrases.AGAIN_ITEM if energy_state.asks_item(self._energy, before) else asked_again(before.pending)
        return self._rules.ask_again(case, why), before

    def _corrects_nothing(self, utterance: Utterance, before: Conversation) -> Turn:
        """A correction that fits neither the last answer nor what is asked."""
        hunt = before.work.isolating
        if hunt is None or not hunt.log:
            return self.ask_again(utterance, before)
        case = Case(utterance=utterance, state=before.state, scope=before.scope, pending=before.pending)
        return self._rules.ask_again(case, phrases.CORRECTS_NOTHING), before

    def back_to(self, before: Conversation) -> tuple[Line, ...]:
        """Where the work stands, said after a question in the middle."""
        work = before.work
        if not work.going_on:
            return ()
        lines = [Line(text=phrases.BACK_TO, role=Role.HEADING)]
        if work.pacing is not None:
            procedure = self.steps.procedure(work.pacing)
            step = (*procedure.steps, *procedure.prove)[work.pacing.at]
            if energy_state.asks_item(self._energy, before):
                return (*lines, Line(text=procedure.title + ".", role=Role.NOTE, source=procedure.full_id))
            return (*lines, Line(text=step.do, role=Role.NOTE, source=procedure.full_id))
        assert work.isolating is not None
        fault = self.hunt.fault(work.isolating)
        part = (before.state.step or "").rpartition("#")[2]
        titles = {c.id: c.title for c in fault.checks} | {r.id: r.title for r in fault.repairs}
        return (*lines, Line(text=f"{titles.get(part, fault.title)}.", role=Role.NOTE, source=fault.full_id))


def _only_a_reading(text: str) -> bool:
    """A figure with its unit and hardly a word besides ("it reads 23.8 volts")."""
    found = placed_readings(text)
    return len(found) == 1 and bool(found[0].reading.unit) and len(found[0].before + found[0].after) < SHORT
