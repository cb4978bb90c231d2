"""State of the voice -> the few rows that are read at arm's length: what is said now, large type left to the terminal."""

from __future__ import annotations

import textwrap
from dataclasses import dataclass

from assistant.rendering.spoken import SpokenKind, SpokenLine
from assistant.talk.state import Phase, Talk, question_of, unit_of, unit_starts

WIDEST = 48
"""Columns used at most, so that the terminal's type can be made as large as its screen allows."""
MOST_ROWS = 12
NOTE_ROWS = 3
"""What went wrong and what to do has to be read whole, where the line that is said leaves room."""
MARKS = {
    Phase.IDLE: "ready",
    Phase.SPEAKING: "speaking",
    Phase.PAUSED: "listening",
    Phase.WAITING: "waiting",
    Phase.STOPPED: "stopped",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One row of text; `strong` is set bold, `signal` in the colours of a warning."""

    text: str
    strong: bool = False
    signal: bool = False


def line_rows(line: SpokenLine, width: int) -> tuple[Row, ...]:
    """One line as it is printed: a warning in a box, a lead in capitals, the rest as authored."""
    columns = max(24, min(WIDEST, width))
    if line.kind is SpokenKind.WARNING:
        return _box(line.shown, columns)
    indent = "  " if line.kind in (SpokenKind.ITEM, SpokenKind.NOTE) else ""
    shown = {SpokenKind.LEAD: line.shown.upper(), SpokenKind.QUESTION: f"? {line.shown}"}.get(line.kind, line.shown)
    strong = line.kind in (SpokenKind.LEAD, SpokenKind.STEP, SpokenKind.QUESTION)
    hanging = indent + ("   " if line.kind is SpokenKind.STEP else "")
    rows = textwrap.wrap(shown, columns, initial_indent=indent, subsequent_indent=hanging, break_on_hyphens=False)
    return tuple(Row(text=text, strong=strong) for text in rows)


def _box(shown: str, columns: int) -> tuple[Row, ...]:
    word, _, text = shown.partition(": ")
    word, inner = word[: columns - 5], columns - 4
    top = f"┌─ {word} {'─' * (columns - 5 - len(word))}┐"
    rows = [top, *(f"│ {part:<{inner}} │" for part in textwrap.wrap(text, inner)), f"└{'─' * (columns - 2)}┘"]
    return tuple(Row(text=row, strong=True, signal=True) for row in rows)


def prompt_row(talk: Talk, *, listening: bool) -> Row:
    """What the voice is doing, and what can be said next."""
    if listening:
        return Row(text="● listening", strong=True)
    if talk.phase is Phase.WAITING:
        if question_of(talk) == talk.at:
            return Row(text="‖ waiting for your answer", strong=True)
        later = sum(start > talk.at for start in unit_starts(talk.lines))
        return Row(text=f"‖ say NEXT ({later} more)" if later else "‖ that is all", strong=True)
    return Row(text=f"{'▶' if talk.phase is Phase.SPEAKING else '·'} {MARKS[talk.phase]}", strong=True)


def frame_rows(talk: Talk, width: int, *, heard: str, note: str, listening: bool) -> tuple[Row, ...]:
    """At most MOST_ROWS rows: the state, what was heard, the present unit up to the present line, a note."""
    columns = max(24, min(WIDEST, width))
    head = [prompt_row(talk, listening=listening)]
    if heard:
        head.append(Row(text=textwrap.shorten(f"“{heard}”", columns, placeholder=" …")))
    present = len(line_rows(talk.lines[talk.at], columns)) if talk.lines else 0
    left = max(1, min(NOTE_ROWS, MOST_ROWS - len(head) - present))
    foot = [Row(text=text) for text in textwrap.wrap(note, columns, max_lines=left, placeholder=" …")]
    room = MOST_ROWS - len(head) - len(foot)
    return (*head, *_present(talk, columns, room), *foot)


def _present(talk: Talk, columns: int, room: int) -> list[Row]:
    """The present line whole as far as there is room, before it as many of its unit as still fit."""
    if not talk.lines:
        return []
    rows = list(line_rows(talk.lines[talk.at], columns))[:room]
    for place in range(talk.at - 1, unit_of(talk) - 1, -1):
        before = line_rows(talk.lines[place], columns)
        if len(before) + len(rows) > room:
            break
        rows = [*before, *rows]
    return rows
