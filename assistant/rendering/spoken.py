"""Answer -> what is said, in order: warnings first and slower, then a little at a time with a pause after it."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

from assistant.domain.answer import Answer, Line, Role, SafetyWarning
from assistant.domain.terms import SignalWord
from assistant.domain.turn import Pending
from assistant.recognition.saying import say_number, say_text
from assistant.rendering.terminal import listed

WARNING_PACE = 0.85
"""Warnings are said slower than the rest; common practice, no source."""
MOST_LINES = 3
"""Lines that are said before a pause; a listener with busy hands holds three or four things (from memory: Cowan 2001)."""
MOST_WORDS = 45
"""Words before a pause, about 20 s of speech, unless a single step or check is longer."""
SEVERITY = tuple(SignalWord)
_BRACKETS = re.compile(r"\s*[(\[]([^)\]]*)[)\]]")
_BAR = re.compile(r"\s*[█░]+")
_COMMAS = re.compile(r",+(?=([.,;:!?]))|,$")
YES_NO = frozenset({"yes", "no"})


class SpokenKind(StrEnum):
    """What a spoken line is, for the screen's layout and for what an interruption may leave out."""

    WARNING = "warning"
    LEAD = "lead"
    HEADING = "heading"
    STEP = "step"
    ITEM = "item"
    SENTENCE = "sentence"
    NOTE = "note"
    QUESTION = "question"


WORK = (SpokenKind.STEP, SpokenKind.NOTE)
_KIND = {
    Role.HEADING: SpokenKind.HEADING,
    Role.STEP: SpokenKind.STEP,
    Role.ITEM: SpokenKind.ITEM,
    Role.SENTENCE: SpokenKind.SENTENCE,
    Role.NOTE: SpokenKind.NOTE,
}


@dataclass(frozen=True, slots=True, kw_only=True)
class SpokenLine:
    """One line as said (`text`, in words) and as printed (`shown`, as authored).

    `pace`: 1.0 is the voice's own, less is slower. `pause_after`: what follows waits for `next`.
    """

    text: str
    shown: str
    kind: SpokenKind
    pace: float = 1.0
    pause_after: bool = False


def spoken(answer: Answer, codes: frozenset[str] = frozenset()) -> tuple[SpokenLine, ...]:
    """Everything that is said of an answer; what is for the eyes only (sources, notices, further questions) is left out.

    `codes`: the known codes, which are said digit by digit wherever they stand.
    """
    return _Telling(codes | frozenset(answer.codes)).of(answer)


def severest_first(warnings: Iterable[SafetyWarning]) -> tuple[SafetyWarning, ...]:
    """By signal word; equally severe ones stay in the order of the answer."""
    return tuple(sorted(warnings, key=lambda warning: SEVERITY.index(warning.signal_word)))


class _Telling:
    """Makes the lines of one answer."""

    def __init__(self, codes: frozenset[str]) -> None:
        self._codes = codes

    def of(self, answer: Answer) -> tuple[SpokenLine, ...]:
        lines = [self._warning(warning) for warning in severest_first(answer.warnings)]
        told = [line for line in _untold(answer.body, answer.pending) if not line.aside]
        named = listed(replace(answer, body=tuple(told)))
        asked_by_lead = answer.pending is not None and answer.lead == answer.pending.text and not named
        ahead = [line for line in told if line.ahead]
        told = [line for line in told if not line.ahead]
        groups = [*self._groups("", ahead), *self._groups("" if asked_by_lead else answer.lead, told)]
        for place, group in enumerate(groups, start=1):
            lines += [*group[:-1], replace(group[-1], pause_after=place < len(groups))]
        if answer.pending is not None:
            lines.append(self._question(answer.pending, named=named))
        elif lines:
            lines[-1] = replace(lines[-1], pause_after=True)
        return tuple(lines)

    def _warning(self, warning: SafetyWarning) -> SpokenLine:
        return SpokenLine(
            text=f"{warning.signal_word.capitalize()}! {self._said(warning.text)}",
            shown=f"{warning.signal_word}: {warning.text}",
            kind=SpokenKind.WARNING,
            pace=WARNING_PACE,
        )

    def _groups(self, lead: str, body: Sequence[Line]) -> list[list[SpokenLine]]:
        """What is said between two pauses: a step or a check with its notes, or a few short lines under a heading."""
        groups: list[list[SpokenLine]] = []
        if lead:
            groups.append([self._line(lead, SpokenKind.LEAD)])
        number = 0
        for place, line in enumerate(body):
            number = number + 1 if line.role is Role.STEP else 0 if line.role is Role.HEADING else number
            fresh = self._line(line.text, _KIND[line.role], number if line.role is Role.STEP else 0)
            ahead = tuple(each.role for each in body[place + 1 : place + 3])
            if not groups or _opens(fresh, ahead, groups[-1]):
                groups.append([])
            groups[-1].append(fresh)
        return groups

    def _line(self, text: str, kind: SpokenKind, number: int = 0) -> SpokenLine:
        """A line of the body; a step says its place, so that a listener can tell where they are."""
        said = f"Step {say_number(str(number))}. {self._said(text)}" if number else self._said(text)
        return SpokenLine(text=said, shown=f"{number}. {text}" if number else text, kind=kind)

    def _question(self, pending: Pending, *, named: bool) -> SpokenLine:
        """What is asked, with its choices unless they were named just before."""
        choices = [] if named else [self._said(choice) for choice in pending.choices]
        asked = f"{self._said(pending.text)} {either(choices)}" if choices and not YES_NO.issuperset(choices) else ""
        shown = f"{pending.text} [{' / '.join(pending.choices)}]" if choices else pending.text
        return SpokenLine(
            text=asked or self._said(pending.text), shown=shown, kind=SpokenKind.QUESTION, pause_after=True
        )

    def _said(self, text: str) -> str:
        """Spoken forms; what stands in brackets is said between commas."""
        return _COMMAS.sub("", say_text(_BRACKETS.sub(r", \1,", _BAR.sub("", text)), self._codes))


def _untold(body: Sequence[Line], pending: Pending | None) -> list[Line]:
    """The lines without the question and without the list of its choices, which the question itself says at the end."""
    if pending is None:
        return list(body)
    items = {line.text for line in body if line.role is Role.ITEM}
    listed = set(pending.choices) if items.issuperset(pending.choices) else set()
    return [line for line in body if line.text != pending.text and not (line.role is Role.ITEM and line.text in listed)]


def _opens(line: SpokenLine, ahead: tuple[Role, ...], group: Sequence[SpokenLine]) -> bool:
    """Whether a line begins a group of its own: never right after a heading, so that none is said without what it heads."""
    last = group[-1].kind
    if last is SpokenKind.HEADING or line.kind is SpokenKind.NOTE:
        return False
    said = sum(each.kind is not SpokenKind.HEADING for each in group)
    words = sum(len(each.text.split()) for each in group)
    if len(group) == 1 and last is SpokenKind.LEAD:
        return words + len(line.text.split()) > MOST_WORDS
    if line.kind is SpokenKind.HEADING:
        heads_work = ahead[:1] == (Role.STEP,) or ahead == (Role.ITEM, Role.NOTE)
        return heads_work or words > MOST_WORDS // 2 or said >= MOST_LINES or last in WORK
    is_check = line.kind is SpokenKind.ITEM and ahead[:1] == (Role.NOTE,)
    if line.kind is SpokenKind.STEP or is_check or last is SpokenKind.NOTE:
        return True
    return said >= MOST_LINES or words + len(line.text.split()) > MOST_WORDS


def either(choices: Sequence[str]) -> str:
    """The choices as one asks for them: "Clear, blocked, or don't know?"."""
    listed = choices[0] if len(choices) == 1 else f"{', '.join(choices[:-1])}, or {choices[-1]}"
    return f"{listed[:1].upper()}{listed[1:]}?"
