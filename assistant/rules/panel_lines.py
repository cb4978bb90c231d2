"""What a code on the panel did to the belief -> the lines that say it."""

from __future__ import annotations

from collections.abc import Mapping

from assistant.domain.answer import Line, Role
from assistant.domain.entries import FaultModel
from assistant.rules import phrases
from assistant.rules.guide_numbers import cause_name, panel_words, percent

Belief = Mapping[str, float]
FLAT = 0.02
"""Total variation below which a code is said to change nothing."""
FALL = 0.1
"""A cause that falls by this much is named beside the one that is likeliest now."""


def panel_line(fault: FaultModel, code: str, words: str) -> Line:
    """The code, and words about it."""
    text = f"{panel_words(code)}{words}" if words == "." else f"{panel_words(code)} {words}"
    return Line(text=text, role=Role.ITEM if words == "." else Role.SENTENCE, source=fault.full_id, computed=(code,))


def moved_lines(fault: FaultModel, code: str, before: Belief, after: Belief) -> tuple[Line, ...]:
    """That a code counts, what is likeliest with it, and what fell most, each with what it was before."""
    lines = [panel_line(fault, code, phrases.CODE_COUNTS)]
    if sum(abs(after[cause] - before[cause]) for cause in after) / 2.0 < FLAT:
        return (*lines, Line(text=phrases.CODE_FLAT))
    best = max(after, key=lambda cause: after[cause])
    same = best == max(before, key=lambda cause: before[cause])
    lead = phrases.STAYS_LIKELIEST if same else phrases.NOW_LIKELIEST
    lines.append(_shift(fault, lead, best, before, after))
    fallen = max(after, key=lambda cause: before[cause] - after[cause])
    if fallen != best and before[fallen] - after[fallen] >= FALL:
        lines.append(_shift(fault, phrases.LESS_LIKELY, fallen, before, after))
    return tuple(lines)


def _shift(fault: FaultModel, lead: str, cause: str, before: Belief, after: Belief) -> Line:
    now, figures = percent(after[cause])
    then, others = percent(before[cause])
    came = "" if now == then else f", {phrases.CAME_FROM} {then}"
    text = f"{lead} {cause_name(fault, cause)}, {now}{came}."
    return Line(text=text, source=fault.full_id, computed=(*figures, *others))
