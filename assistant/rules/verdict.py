"""Everything known of one turn -> the Answer; nothing else in the program makes one."""

from __future__ import annotations

import difflib
import math
from collections.abc import Callable, Collection, Iterable, Sequence
from dataclasses import dataclass, replace

from assistant.domain.answer import Answer, Line, Outcome, Role
from assistant.domain.calculation import Result
from assistant.domain.draft import Draft
from assistant.domain.entries import Code, Entry, Refusal
from assistant.domain.knowledge import KnowledgeBase
from assistant.domain.safety import IsolationItem
from assistant.domain.search import Findings, Hit
from assistant.domain.terms import EntryId, Hazard
from assistant.domain.turn import Calculating, Pending, PendingKind, State
from assistant.domain.utterance import Utterance
from assistant.errors import CalculationError
from assistant.recognition.spoken_forms import CodeMention
from assistant.retrieval.rows import Rows
from assistant.rules import phrases
from assistant.rules.body import ENERGY_SOURCE, BodyBuilder, refusal_lines
from assistant.rules.calculation_page import asked_page, failed_page, result_page
from assistant.rules.code_lookup import near_codes, unknown_code_lines
from assistant.rules.energy_state import next_item
from assistant.rules.grounding import Ground
from assistant.rules.guide_pages import Page
from assistant.rules.safety import SafetyChooser
from assistant.rules.table_page import TablePage

_UNCITED = (None, ENERGY_SOURCE)
MOST_NEAR = 3
MOST_NEXT = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """What a verdict is made on.

    The utterance, what was found for it, the state of the conversation, whether the entry was asked for by its name and is
    told in full, and the lines that lead back to the work that goes on.
    """

    utterance: Utterance
    state: State
    scope: str | None = None
    findings: Findings | None = None
    pending: Pending | None = None
    full: bool = False
    back_to: tuple[Line, ...] = ()


class Rules:
    """The only maker of answers."""

    def __init__(self, knowledge: KnowledgeBase) -> None:
        """Prepare the lookups."""
        self._knowledge = knowledge
        self._entries = {entry.full_id: entry for entry in knowledge.entries()}
        self._bodies = BodyBuilder(knowledge)
        energy = (knowledge.energy, *knowledge.energy.of_machine.values())
        self.ground = Ground(knowledge.entries(), {ENERGY_SOURCE: energy, **Rows(knowledge).cited()})
        self.safety = SafetyChooser(knowledge)

    def answered(self, case: Case, draft: Draft) -> Answer:
        """The first hit's entry, told in full; a draft that does not hold is dropped, never patched."""
        assert case.findings is not None and case.findings.hits, "an answer needs a hit"
        entry = self._entries[case.findings.hits[0].entry]
        if not self.ground.holds_draft(draft, (hit.entry for hit in case.findings.hits)):
            draft = Draft(sentences=(), composer="passage", note="the draft did not hold and was dropped")
        body = self._bodies.build(entry, draft, case.state.energy, full=case.full)
        pending = case.pending
        if body.withheld and pending is None:
            pending = next_item(self._knowledge.energy, (), case.scope)
        return self._make(
            case,
            Outcome.ANSWERED,
            lead=body.lead,
            lead_source=entry.full_id,
            lines=body.lines,
            shown=(entry.full_id,),
            ask_next=self._next(entry, case.findings.hits),
            pending=pending,
            composer=draft.composer,
        )

    def entry_named(
        self, name: str, scope: str | None, designations_in: Callable[[str, Collection[str]], tuple[str, ...]]
    ) -> EntryId | None:
        """The entry of that id or designation; in several packs, the one in scope, else the first by id."""
        plain = name.strip()
        if EntryId(plain) in self._entries:
            return EntryId(plain)
        named = [
            item.full_id
            for item in (*self._knowledge.components, *self._knowledge.signals)
            if item.id in designations_in(plain, {item.id}) and scope in (None, item.pack)
        ]
        return min(named, default=None)

    def near_names(self, name: str) -> tuple[str, ...]:
        """Designations and ids most like a name that does not exist."""
        names = {item.id.upper(): item.id for item in (*self._knowledge.components, *self._knowledge.signals)}
        names.update({str(entry).upper(): str(entry) for entry in self._entries})
        return tuple(names[n] for n in difflib.get_close_matches(name.strip().upper(), sorted(names), n=4, cutoff=0.5))

    def not_covered(self, case: Case, unknown: Sequence[CodeMention] = ()) -> Answer:
        """Nothing authored answers: says so, and offers the nearest entries."""
        hits = case.findings.hits[:MOST_NEAR] if case.findings else ()
        lines: list[Line] = []
        near: list[EntryId] = []
        for mention in unknown:
            codes = near_codes(self._knowledge, mention.digits, case.scope)
            near += [code.full_id for code in codes]
            lines += unknown_code_lines(self._knowledge, mention.digits, case.scope, codes)
        if hits and not unknown:
            lines.append(Line(text=phrases.NEAREST, role=Role.HEADING))
            lines += [Line(text=f"{self._bodies.title(h.entry)}.", role=Role.ITEM, source=h.entry) for h in hits]
            near += [hit.entry for hit in hits]
        if case.findings and not case.findings.query.exact and not unknown and not case.utterance.text.isascii():
            lines.append(Line(text=phrases.IN_ENGLISH))
        return self._make(
            case,
            Outcome.NOT_COVERED,
            lead=phrases.NOT_COVERED,
            lines=lines,
            ask_next=tuple(f"{self._bodies.title(e)} ({e})" for e in dict.fromkeys(near)),
            pending=case.pending,
        )

    def refused(self, case: Case, refusal: Refusal) -> Answer:
        """No, why not, and the safe way to the same end."""
        return self._make(
            case,
            Outcome.REFUSED,
            lead=f"{phrases.REFUSED} {refusal.title}.",
            lead_source=refusal.full_id,
            lines=refusal_lines(refusal),
            shown=(refusal.full_id,),
            refusal=refusal.full_id,
            ask_next=tuple(f"{self._bodies.title(EntryId(s))} ({s})" for s in refusal.see),
            pending=case.pending,
        )

    def item_confirmed(self, case: Case, item: IsolationItem, left: int) -> Answer:
        """Which item of the isolation stands now, how many are still to go, and the next one."""
        told = Line(text=f"{phrases.ITEM_CONFIRMED} {item.done}.", source=ENERGY_SOURCE)
        rest = Line(text=f"{left} {phrases.ITEMS_LEFT}", computed=(str(left),))
        return self.noted(case, (told, rest))

    def machine_chosen(self, case: Case, pack: str) -> Answer:
        """The machine that questions are about from here on."""
        name = next(machine.name for machine in self._knowledge.machines if machine.pack == pack)
        return self.noted(case, (Line(text=f"{phrases.MACHINE_CHOSEN} {name}.", computed=tuple(name.split())),))

    def which_machine(self, case: Case, packs: Sequence[str]) -> Answer:
        """Two machines fit equally: asks which."""
        names = tuple(m.name for m in self._knowledge.machines if m.pack in packs)
        pending = Pending(kind=PendingKind.MACHINE, text=phrases.WHICH_MACHINE, choices=names)
        return self._make(case, Outcome.WHICH_MACHINE, lead=phrases.WHICH_MACHINE, lines=(), pending=pending)

    def wait_left(self, case: Case, left_s: float) -> Answer:
        """The wait of the isolation is not over: how much of it is left, and what that means."""
        minutes = math.ceil(left_s / 60)
        left = f"{minutes} min" if left_s > 60 else f"{math.ceil(left_s)} s"
        lines = (
            Line(text=f"{phrases.WAIT_LEFT} {left}.", computed=(left.split()[0],)),
            Line(text=phrases.WAIT_WHY),
            Line(text=phrases.WAITED_BEFORE),
        )
        hazards = (Hazard.ELECTRIC_SHOCK, Hazard.STORED_ENERGY)
        return self._make(
            case, Outcome.ASK_AGAIN, lead=phrases.WAIT_ON, lines=lines, pending=case.pending, hazards=hazards
        )

    def ask_again(self, case: Case, why: str) -> Answer:
        """Nothing that can be taken was said."""
        return self._make(case, Outcome.ASK_AGAIN, lead=why, lines=(), pending=case.pending)

    def asked_back(self, case: Case, lead: str, what: str, source: EntryId) -> Answer:
        """What seems to be meant is asked back before it counts."""
        lines = (Line(text=what, role=Role.ITEM, source=source),)
        return self._make(case, Outcome.ASK_AGAIN, lead=lead, lines=lines, pending=case.pending, cited=(source,))

    def guided(self, case: Case, page: Page, notes: Sequence[Line] = (), hazards: Sequence[Hazard] = ()) -> Answer:
        """A page of guided work, led by notes on what was just said; `hazards` are added to the page's own."""
        return self._make(
            case,
            page.outcome,
            lead=page.lead,
            lead_source=page.source,
            lines=(*(replace(note, ahead=True) for note in notes), *page.lines),
            cited=(page.source,),
            hazards=(*hazards, *page.hazards),
            pending=page.pending,
        )

    def calculated(self, case: Case, result: Result, hazards: Sequence[Hazard] = ()) -> Answer:
        """A result: every figure in it is one that the calculation gave or was given."""
        page = result_page(result)
        about = tuple(dict.fromkeys(taken.entry for taken in result.taken if taken.entry is not None))
        return self._make(
            case,
            Outcome.ANSWERED,
            lead=page[0],
            lines=page[1:],
            cited=about,
            hazards=(*hazards, *(h for entry in about for h in self.safety.hazards_of(entry))),
            pending=case.pending,
            calculation=result,
        )

    def from_table(self, case: Case, page: TablePage) -> Answer:
        """A row of a machine's tables, or what is nearest to one that does not exist."""
        return self._make(
            case,
            page.outcome,
            lead=page.lead,
            lines=page.lines,
            cited=page.cited,
            hazards=page.hazards,
            pending=case.pending,
        )

    def asks_figure(self, case: Case, title: str, waiting: Calculating, why: CalculationError | None = None) -> Answer:
        """One figure is still needed; why the last one was not taken is said first."""
        page = asked_page(title, waiting, why)
        outcome = Outcome.READING if why is None else Outcome.ASK_AGAIN
        return self._make(case, outcome, lead=page[0], lines=page[1:], pending=waiting.pending)

    def cannot_calculate(self, case: Case, error: CalculationError) -> Answer:
        """What was wrong with the figures, and what would be right; nothing is guessed."""
        page = failed_page(error)
        return self._make(case, Outcome.ASK_AGAIN, lead=page[0], lines=page[1:], pending=case.pending)

    def noted(self, case: Case, what: Sequence[str | Line], hazards: Iterable[Hazard] = ()) -> Answer:
        """A declaration or a confirmation was taken."""
        lines = tuple(text if isinstance(text, Line) else Line(text=text) for text in what[1:])
        if case.pending is not None and case.pending.kind is PendingKind.CONFIRM:
            lines = (*lines, Line(text=case.pending.text, source=ENERGY_SOURCE))
        return self._make(case, Outcome.DONE, lead=what[0], lines=lines, pending=case.pending, hazards=tuple(hazards))

    def _next(self, entry: Entry, hits: Sequence[Hit]) -> tuple[str, ...]:
        see = tuple(getattr(entry, "see", ()))
        others = [EntryId(s) for s in see if s in self._entries] + [hit.entry for hit in hits[1:3]]
        offered = [e for e in dict.fromkeys(others) if e != entry.full_id][:MOST_NEXT]
        return tuple(f"{self._bodies.title(e)} ({e})" for e in offered)

    def _make(
        self,
        case: Case,
        outcome: Outcome,
        *,
        lead: str | Line,
        lines: Sequence[Line],
        lead_source: EntryId | None = None,
        shown: Sequence[EntryId] = (),
        cited: Sequence[EntryId] = (),
        hazards: Sequence[Hazard] = (),
        ask_next: tuple[str, ...] = (),
        pending: Pending | None = None,
        refusal: EntryId | None = None,
        composer: str = "",
        calculation: Result | None = None,
    ) -> Answer:
        text = case.utterance.text
        findings = case.findings
        raised = (*hazards, *self.safety.hazards(text, findings, shown))
        warnings = self.safety.warnings(raised, text)
        first = lead if isinstance(lead, Line) else Line(text=lead, source=lead_source)
        body = self._grounded((first, *lines, *case.back_to), text)
        cited = (*shown, *cited)
        notices = [phrases.NOTICE] if warnings else []
        if case.utterance.cut:
            notices.insert(0, phrases.CUT)
        query = findings.query if findings else None
        told = tuple(self._entries[e].id for e in shown if isinstance(self._entries[e], Code))
        return Answer(
            question=text,
            outcome=outcome,
            heard=case.utterance.heard,
            machine=self._machine(case, cited),
            hits=findings.hits[:10] if findings else (),
            codes=tuple(dict.fromkeys((*(query.codes if query else ()), *told))),
            designations=query.designations if query else (),
            warnings=warnings,
            refusal=refusal,
            lead=body[0].text,
            body=body[1:],
            sources=tuple(
                dict.fromkeys(
                    s for s in (*cited, *(line.source for line in body if cited)) if s is not None and s not in _UNCITED
                )
            ),
            ask_next=ask_next,
            notice=" ".join(notices),
            composer=composer,
            pending=pending,
            state=case.state,
            elapsed_ms=findings.elapsed_ms if findings else (),
            calculation=calculation,
        )

    def _grounded(self, lines: Sequence[Line], question: str) -> tuple[Line, ...]:
        """The lines if every one holds; else none of them, and that is said: never a text with a sentence missing."""
        if all(self.ground.holds_line(line, question) for line in lines):
            return tuple(lines)
        return (Line(text=phrases.WITHHELD_TEXT),)

    def _machine(self, case: Case, shown: Sequence[EntryId]) -> str | None:
        packs = {machine.pack for machine in self._knowledge.machines}
        for entry in shown:
            pack = entry.split("/", 1)[0]
            if pack in packs:
                return pack
        if case.findings is not None and case.findings.query.scope is not None:
            return case.findings.query.scope
        return case.scope
