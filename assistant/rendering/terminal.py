"""Answer -> lines for a terminal of any width: warnings first, then lead, body, sources, what to ask next."""

from __future__ import annotations

import re
import textwrap
from dataclasses import dataclass

from assistant.domain.answer import Answer, Line, Role, SafetyWarning
from assistant.domain.terms import SignalWord

WIDEST = 96
"""Longer lines are hard to follow at arm's length, so a wide terminal keeps a margin."""
NARROWEST = 40
MOST_WARNINGS_FULL = 3
"""Warnings after these are printed without a rule between them, so that four hazards still fit a screen."""

_SIGNAL_COLOURS = {SignalWord.DANGER: "1;97;41", SignalWord.WARNING: "1;30;43", SignalWord.CAUTION: "1;30;103"}
"""Safety colours of ANSI Z535.1 as far as a terminal has them: red, orange (its nearest), yellow."""

_NO_BREAK = "\ue000"
"""Stands for a blank at which no line is broken; of the private use area, so that no authored text has it."""
_FIGURE_AND_UNIT = re.compile(r"(?<=\d) (?=(?:%|[A-Za-zµΩ°][A-Za-zµΩ°/0-9²³·]{0,4}(?: (?:AC|DC))?)(?:[\s.,;:)]|$))")
"""A figure is read together with its unit, so the blank between them is no place for a new line."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Style:
    """How wide, and whether escape sequences may be used."""

    width: int = 80
    colour: bool = False

    @property
    def columns(self) -> int:
        """Columns that text may use."""
        return max(NARROWEST, min(self.width, WIDEST))

    def paint(self, text: str, code: str) -> str:
        """The text in a colour, or plain."""
        return f"\x1b[{code}m{text}\x1b[0m" if self.colour else text


def render(answer: Answer, style: Style) -> str:
    """The whole answer as text, without a trailing newline."""
    blocks: list[list[str]] = []
    if answer.warnings:
        blocks.append([line for warning in answer.warnings for line in _warning(warning, style)])
    if ahead := _body(answer, style, ahead=True):
        blocks.append(ahead)
    if answer.pending is None or answer.lead != answer.pending.text or listed(answer):
        blocks.append([style.paint(line, "1") for line in _wrap(answer.lead, style)])
    if body := _body(answer, style, ahead=False):
        blocks.append(body)
    if answer.pending is not None:
        choices = f"  [{' / '.join(answer.pending.choices)}]" if answer.pending.choices and not listed(answer) else ""
        blocks.append([style.paint(line, "1") for line in _wrap(f"? {answer.pending.text}{choices}", style, "  ")])
    foot = _foot(answer, style)
    if foot:
        blocks.append(foot)
    return "\n\n".join("\n".join(block) for block in blocks)


def listed(answer: Answer) -> bool:
    """Whether the choices of what is asked stand as lines already."""
    choices = answer.pending.choices if answer.pending is not None else ()
    return bool(choices) and {*choices} <= {line.text.rstrip(".") for line in answer.body}


def _warning(warning: SafetyWarning, style: Style) -> list[str]:
    label = f" {warning.signal_word} "
    plain_label = label if style.colour else f"{warning.signal_word}:"
    lines = _wrap(f"{plain_label} {warning.text}", style, "    ")
    if style.colour:
        lines[0] = lines[0].replace(label.strip(), style.paint(label, _SIGNAL_COLOURS[warning.signal_word]), 1).lstrip()
    return lines


def _body(answer: Answer, style: Style, *, ahead: bool) -> list[str]:
    """The lines that stand before the lead, or those after it."""
    lines: list[str] = []
    number = 0
    asked = answer.pending.text if answer.pending is not None else None
    for line in answer.body:
        if line.ahead is not ahead or line.text == asked:  # what is asked stands below, with its choices
            continue
        number = _numbered(line, number)
        lines += _line(line, number, style, bool(lines))
    return lines


def _numbered(line: Line, number: int) -> int:
    if line.role is Role.STEP:
        return number + 1
    return 0 if line.role is Role.HEADING else number


def _line(line: Line, number: int, style: Style, inner: bool) -> list[str]:
    match line.role:
        case Role.HEADING:
            return [*([""] if inner else []), style.paint(line.text, "4")]
        case Role.STEP:
            return _wrap(f"{number:>2}. {line.text}", style, "    ")
        case Role.ITEM:
            return _wrap(f"  - {line.text}", style, "    ")
        case Role.NOTE:
            return _wrap(f"      {line.text}", style, "      ")
        case Role.SENTENCE:
            return _wrap(line.text, style)


def _foot(answer: Answer, style: Style) -> list[str]:
    foot: list[str] = []
    if answer.notice:
        foot += _wrap(answer.notice, style)
    if answer.sources:
        foot += _wrap(f"Source: {', '.join(answer.sources)}", style, "        ")
    if answer.ask_next:
        foot.append("Ask next:")
        for text in answer.ask_next:
            foot += _wrap(f"  > {text}", style, "    ")
    return [style.paint(line, "2") for line in foot]


def _wrap(text: str, style: Style, hanging: str = "") -> list[str]:
    return wrapped(text, style.columns, hanging)


def wrapped(text: str, columns: int, hanging: str = "") -> list[str]:
    """The text in lines of that width, a figure always with its unit; `hanging` stands before all lines but the first."""
    together = _FIGURE_AND_UNIT.sub(_NO_BREAK, text)
    lines = textwrap.wrap(together, columns, subsequent_indent=hanging, break_long_words=False, break_on_hyphens=False)
    return [line.replace(_NO_BREAK, " ") for line in lines] or [""]
