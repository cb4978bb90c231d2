"""A question that a machine's tables answer -> the answer from the row, the machine asked for, or what is nearest."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from assistant.dialogue.machine_choice import pointed_at
from assistant.dialogue.table_wish import Table, TableWish, TableWishes
from assistant.domain.answer import Answer, Line
from assistant.domain.knowledge import KnowledgeBase
from assistant.domain.search import Findings, Query
from assistant.domain.tables import Conductor
from assistant.domain.terms import EntryId
from assistant.domain.turn import Conversation
from assistant.domain.utterance import Utterance
from assistant.retrieval.analysis import make_lexicon
from assistant.retrieval.rows import Rows, number_order
from assistant.rules import energy_state, phrases
from assistant.rules.table_page import TablePage, TablePages
from assistant.rules.verdict import Case, Rules

Turn = tuple[Answer, Conversation]
MOST_NEAR = 4
STEPS = 2
"""Numbers so near to each other are neighbours on the rail."""
_NAMED = {Table.WIRE: phrases.A_WIRE, Table.TERMINAL: phrases.A_TERMINAL, Table.SIGNAL: phrases.A_SIGNAL}


class Tables:
    """Looks rows up; holds no state of a conversation."""

    def __init__(self, knowledge: KnowledgeBase, rules: Rules) -> None:
        """Index the tables once."""
        self._knowledge = knowledge
        self._rules = rules
        self._entries = frozenset(entry.full_id for entry in knowledge.entries())
        self._rows = Rows(knowledge)
        self._wishes = TableWishes(self._rows, make_lexicon(knowledge.lexicon.groups))
        self._pages = TablePages(self._rows)

    def wish(self, text: str, query: Query) -> TableWish | None:
        """The row that a text asks for."""
        return self._wishes.wish(text, query)

    def tell(
        self, utterance: Utterance, before: Conversation, wish: TableWish, findings: Findings, back_to: tuple[Line, ...]
    ) -> Turn:
        """The row's answer; of several machines that have it, the one meant is asked for."""
        scope = findings.query.scope
        pack = scope or self._pack(wish.packs, utterance.text, before)
        if pack is not None:
            before = energy_state.of_machine(before, pack)
        case = Case(
            utterance=utterance,
            state=before.state,
            scope=pack or before.scope,
            findings=findings,
            pending=before.pending,
            back_to=back_to,
        )
        if wish.packs and pack is None:
            answer = self._rules.which_machine(case, wish.packs)
            return answer, replace(before, pending=answer.pending, asked=utterance.text)
        page = self._page(wish, pack) if pack in wish.packs else self._missing(wish, scope)
        focus = self._focus(page)
        return self._rules.from_table(case, page), replace(before, focus=focus or before.focus)

    # --- inside

    def _pack(self, packs: Sequence[str], text: str, before: Conversation) -> str | None:
        if len(packs) == 1:
            return packs[0]
        focus = before.focus.split("/", 1)[0] if before.focus else ""
        if focus in packs:
            return focus
        pointed = pointed_at(text, self._knowledge.machines) & set(packs)
        return next(iter(pointed)) if len(pointed) == 1 else None

    def _page(self, wish: TableWish, pack: str | None) -> TablePage:
        conductors = [row for row in wish.conductors if row.pack == pack]
        if conductors and wish.table is Table.FUSE:
            return self._pages.fuse(conductors[0])
        if conductors:
            return self._pages.wires(conductors[:MOST_NEAR], by_terminal=wish.table is Table.TERMINAL)
        signals = [signal for signal in wish.signals if signal.pack == pack]
        if signals:
            return self._pages.signals(signals[:MOST_NEAR])
        settings = [setting for setting in wish.settings if setting.pack == pack]
        if settings:
            return self._pages.setting(settings[0])
        return self._pages.part(next(part for part in wish.parts if part.pack == pack))

    def _missing(self, wish: TableWish, scope: str | None) -> TablePage:
        rows = [row for row in self._rows.conductors if scope in (None, row.pack)]
        what = _NAMED[wish.table]
        named = [key for key in wish.beside if scope in (None, key[0])]
        own = [row for pack, name in named for row in self._rows.at(pack, (name,))]
        near = (*own, *_nearest(wish, rows))
        chosen = tuple(dict.fromkeys(near))[:MOST_NEAR]
        return self._pages.missing(what, wish.name, chosen, scoped=scope is not None)

    def _focus(self, page: TablePage) -> EntryId | None:
        """What a follow-up would be about: the first entry that the page cites."""
        return next((entry for entry in page.cited if entry in self._entries), None)


def _nearest(wish: TableWish, rows: Sequence[Conductor]) -> list[Conductor]:
    """The rows most like a number or terminal that does not exist; for an address, those of its kind."""
    if wish.table is Table.SIGNAL:
        return [row for row in rows if row.signal is not None and row.signal.split("/")[-1][0] == wish.name[0]]
    rail, _, number = wish.name.rpartition(":")
    if wish.table is Table.TERMINAL:
        of_rail = [row for row in rows if not rail or row.terminal.split(":")[0] == rail]
        return sorted(of_rail, key=lambda row: (_unlike(number, row.terminal.split(":")[1]), row.id))
    return sorted(rows, key=lambda row: (_unlike(wish.name, row.wire), row.id))


def _unlike(wanted: str, number: str) -> tuple[int, int]:
    """How unlike two numbers are: figures exchanged, then one figure or a step apart, one too many, then by the difference."""
    apart = abs(number_order(wanted)[0] - number_order(number)[0])
    if sorted(wanted) == sorted(number):
        return (0, apart)
    if apart <= STEPS or (len(wanted) == len(number) and sum(a != b for a, b in zip(wanted, number, strict=True)) == 1):
        return (1, apart)
    longer, shorter = sorted((wanted, number), key=len, reverse=True)
    one_more = any(longer[:i] + longer[i + 1 :] == shorter for i in range(len(longer)))
    return (2 if one_more else 3, apart)
