"""A code seen, gone or corrected while a fault is hunted -> the hunt with it as evidence, and the words of what it moved."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace

from assistant.dialogue.commands import correction_of
from assistant.dialogue.hunt import Hunt, with_hunt
from assistant.dialogue.panel_words import Sighting, sighting_of
from assistant.domain.answer import Line, Role
from assistant.domain.guide import Isolating
from assistant.domain.panel import NO_CODE, answers_to
from assistant.domain.safety import EnergyRules
from assistant.domain.terms import Energy
from assistant.domain.turn import Conversation, PendingKind
from assistant.isolation import belief, counted, seen, taken_back
from assistant.isolation.progress import progress
from assistant.rules import energy_state, phrases
from assistant.rules.panel_lines import moved_lines, panel_line


@dataclass(frozen=True, slots=True, kw_only=True)
class Shift:
    """The conversation with what was seen, the words of what it moved, and what is due now where that is something else.

    `asks` is what is looked up of it: the codes named; empty where none is to be told.
    """

    after: Conversation
    lines: tuple[Line, ...]
    due: tuple[Line, ...] = ()
    asks: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class PanelWord:
    """What an utterance says of the panel; `corrects`: it replaces the code that was named last."""

    sighting: Sighting
    corrects: bool = False


class Panel:
    """The panel as a witness in a hunt; holds no state of one."""

    def __init__(self, hunt: Hunt, codes: Collection[tuple[str, str]], energy: EnergyRules) -> None:
        """`codes` are the (pack, code) that exist."""
        self._hunt = hunt
        self._energy = energy
        self._codes = frozenset(codes)

    def waits(self, before: Conversation) -> bool:
        """Whether the page of the hunt is not what is due: a procedure lies on it, or an isolation is being confirmed."""
        item = energy_state.asks_item(self._energy, before)
        only_asked = not before.confirmed and (before.state.step or "").endswith(f"#{Energy.ISOLATED}")
        return before.work.pacing is not None or (item and not only_asked)

    def word(self, text: str, before: Conversation) -> PanelWord | None:
        """What is said of the panel while a hunt goes on; None for anything else."""
        hunt = before.work.isolating
        if hunt is None or not before.work.going_on or hunt.over:
            return None
        rest = correction_of(text)
        if rest:
            corrected = self._correction(rest, before, hunt)
            if corrected is not None:
                return corrected
        reading = before.pending is not None and before.pending.kind is PendingKind.READING
        found = sighting_of(text, reading=reading)
        return None if found is None else PanelWord(sighting=found)

    def comes_first(self, text: str, before: Conversation) -> bool:
        """Whether the panel is meant where a check or a step might take the words: a code is put right, or called one."""
        word = self.word(text, before)
        if word is None:
            return False
        pending = before.pending
        figure = before.work.pacing is not None or (pending is not None and pending.kind is PendingKind.READING)
        called = figure and bool(word.sighting.codes) and sighting_of(text, reading=True) is not None
        withdrawn = word.sighting.gone or word.sighting.none
        return called or word.corrects or (withdrawn and correction_of(text) != "")

    def _correction(self, rest: str, before: Conversation, hunt: Isolating) -> PanelWord | None:
        """Another code in place of the one named last; a number is that only where a code was what was said last."""
        if not self._last(hunt):
            return None
        found = sighting_of(rest, alone=hunt.named != "")
        return None if found is None else PanelWord(sighting=found, corrects=bool(found.codes) and not found.gone)

    def _last(self, hunt: Isolating) -> str:
        """The code that was named last, else the last one that counts; "" where there is none."""
        model = self._hunt.isolator_of(self._hunt.fault(hunt)).model
        names = [answer.seen for answer in counted(model, hunt.log) if answer.seen != NO_CODE]
        return hunt.named or (names[-1] if names else "")

    def take(self, word: PanelWord, before: Conversation) -> Shift:
        """The conversation after what was said of the panel."""
        hunt = before.work.isolating
        assert hunt is not None
        said = word.sighting
        lines: list[Line] = []
        if progress(self._hunt.isolator_of(self._hunt.fault(hunt)).model, hunt.log).unproved:
            hunt = self._beside(hunt, said.codes)
            lines.append(Line(text=phrases.CODE_AFTER_REPAIR))
        elif said.none:
            hunt, told = self._seen(hunt, NO_CODE)
            lines += told
        elif said.gone:
            hunt, told = self._gone(hunt, said.codes)
            lines += told or (Line(text=phrases.NO_CODE_GONE),)
        else:
            last = self._last(hunt) if word.corrects else ""
            if last and last not in said.codes:
                hunt, told = self._gone(hunt, (last,))
                lines += told
            for code in said.codes:
                hunt, told = self._seen(hunt, code)
                lines += told
        shift = self._shift(before, hunt, lines)
        if said.gone:
            return shift
        return replace(shift, asks=" ".join(f"code {code}" for code in said.codes))

    def begun(self, hunt: Isolating, codes: Sequence[str]) -> tuple[Isolating, tuple[Line, ...]]:
        """A hunt that begins with codes on the panel; those that tell nothing are kept without a word."""
        lines: list[Line] = []
        for code in codes:
            hunt, told = self._seen(hunt, code)
            lines += () if code in hunt.beside else told
        return hunt, tuple(lines)

    def _seen(self, hunt: Isolating, code: str) -> tuple[Isolating, list[Line]]:
        fault = self._hunt.fault(hunt)
        if code != NO_CODE and (fault.pack, code) not in self._codes:
            return hunt, []  # a code that does not exist is answered as such
        hunt = replace(hunt, named="" if code == NO_CODE else code)
        model = self._hunt.isolator_of(fault).model
        log = seen(model, fault, hunt.log, code)
        if log != hunt.log:
            lines = moved_lines(fault, code, belief(model, hunt.log), belief(model, log))
            return replace(hunt, log=log), list(lines)
        if answers_to(fault, code):
            return hunt, [panel_line(fault, code, phrases.CODE_COUNTED)]
        if code == NO_CODE:
            return hunt, [Line(text=phrases.CODE_TELLS_NOTHING)]
        words = phrases.CODE_OF_ALL if code in fault.codes else phrases.CODE_BESIDE
        return self._beside(hunt, (code,)), [panel_line(fault, code, words)]

    def _beside(self, hunt: Isolating, codes: Sequence[str]) -> Isolating:
        """The hunt with codes noted that do not count in it."""
        pack = self._hunt.fault(hunt).pack
        fresh = [code for code in dict.fromkeys(codes) if (pack, code) in self._codes and code not in hunt.beside]
        return replace(hunt, beside=(*hunt.beside, *fresh))

    def _gone(self, hunt: Isolating, codes: Sequence[str]) -> tuple[Isolating, list[Line]]:
        fault = self._hunt.fault(hunt)
        model = self._hunt.isolator_of(fault).model
        lines: list[Line] = []
        for code in dict.fromkeys(answer.seen for answer in counted(model, hunt.log)):
            if code != NO_CODE and (not codes or code in codes):
                hunt = replace(hunt, log=taken_back(model, hunt.log, code))
                lines.append(panel_line(fault, code, phrases.CODE_GONE))
        return hunt, lines

    def _shift(self, before: Conversation, hunt: Isolating, lines: Sequence[Line]) -> Shift:
        """What is due now may be another check; an isolation that is being confirmed and a procedure go on undisturbed."""
        old = before.work.isolating
        assert old is not None
        if hunt.log == old.log:
            return Shift(after=with_hunt(before, hunt), lines=tuple(lines))
        hunt = replace(hunt, meant="", missed=0)
        after = with_hunt(before, hunt)
        if self.waits(before):
            return Shift(after=after, lines=tuple(lines))
        page, _ = self._hunt.page(hunt, before.state.energy)
        after = replace(after, pending=page.pending, state=replace(after.state, step=page.step))
        if page.step == before.state.step:
            return Shift(after=after, lines=tuple(lines))
        due = (
            Line(text=phrases.NOW_DUE, role=Role.HEADING),
            Line(text=page.lead, role=Role.NOTE, source=page.source),
        )
        return Shift(after=after, lines=tuple(lines), due=due)
