"""The planner's numbers -> lines: chances with bars, minutes, what each outcome would leave; every figure is marked computed."""

from __future__ import annotations

from collections.abc import Sequence

from assistant.domain.answer import Line, Role
from assistant.domain.entries import FaultModel
from assistant.domain.fault_log import DoCheck, DoRepair, HandOver, Prove, Work
from assistant.domain.isolation import SOMETHING_ELSE
from assistant.domain.panel import NO_CODE
from assistant.isolation.explanation import UNLIKELY, Chance, Explanation, OutcomeView, RuledOut
from assistant.rules import phrases

BAR = 10
MOST_LEFT = 2
"""Causes named for each outcome; more are not heard."""
LEAST_SAVING = 1.0
"""Minutes; a smaller saving is not worth a figure."""


def cause_name(fault: FaultModel, cause: str) -> str:
    """Its authored name."""
    if cause == SOMETHING_ELSE:
        return phrases.SOMETHING_ELSE
    return next(c.name for c in fault.causes if c.id == cause)


def work_name(fault: FaultModel, work: Work) -> str:
    """Title of a check or a repair, or what else it is."""
    match work:
        case DoCheck(check=name):
            return next(c.title for c in fault.checks if c.id == name)
        case DoRepair(repair=name):
            return next(r.title for r in fault.repairs if r.id == name)
        case Prove():
            return phrases.PROOF.rstrip(":")
        case HandOver():
            return phrases.HAND_OVER.split(":", 1)[0]
        case _:
            return phrases.CURED


def percent(chance: float) -> tuple[str, tuple[str, ...]]:
    """Words or a figure of at most two digits, and the figure; a chance near one is never said to be certain."""
    if chance < UNLIKELY:
        return phrases.UNLIKELY, ()
    figure = f"{min(99, round(100 * chance))}"
    return f"{figure} %", (figure,)


def minutes(value: float) -> tuple[str, tuple[str, ...]]:
    """Whole minutes, and the figure."""
    figure = f"{max(1, round(value))}"
    return figure, (figure,)


def likely_now(fault: FaultModel, told: Explanation) -> tuple[Line, ...]:
    """The top three with bars."""
    lines = [Line(text=phrases.LIKELY_NOW, role=Role.HEADING)]
    for chance in told.top:
        said, computed = percent(chance.chance)
        filled = max(0, min(BAR, round(BAR * chance.chance)))
        bar = "█" * filled + "░" * (BAR - filled)
        text = f"{cause_name(fault, chance.cause)}: {said} {bar}"
        lines.append(Line(text=text, role=Role.ITEM, source=fault.full_id, computed=computed))
    return tuple(lines)


def why_short(fault: FaultModel, told: Explanation) -> tuple[Line, ...]:
    """One or two sentences: what it saves and what the most telling outcome would leave; a repair's chance to cure."""
    lines = [Line(text=phrases.WHY_THIS, role=Role.HEADING)]
    match told.action:
        case DoCheck():
            lines.append(_saving(fault, told))
            telling = next((v for v in told.outcomes if v.outcome == told.telling), None)
            if telling is not None:
                lines.append(_leaves(fault, telling))
        case DoRepair() | Prove():
            said, computed = percent(told.cure)
            lines.append(_line(fault, f"{phrases.CURE_CHANCE} {said}.", computed))
        case _:
            lines.append(_line(fault, phrases.NO_MORE_REPAIR, ()))
    if told.passes > 1:
        lines.append(_line(fault, f"{phrases.PASSES} {told.passes}.", (str(told.passes),)))
    return tuple(lines)


def why_long(fault: FaultModel, told: Explanation) -> tuple[Line, ...]:
    """Every outcome, what was ruled out and by which answer, what is nearly as good, how long it will still take."""
    lines = list(why_short(fault, told))
    if told.outcomes:
        lines.append(Line(text=phrases.OUTCOMES_LEAVE, role=Role.HEADING))
        lines += [_leaves(fault, view) for view in told.outcomes]
    lines += signs(fault, told)
    if told.ruled_out:
        lines.append(Line(text=phrases.RULED_OUT, role=Role.HEADING))
        lines += [_ruled_out(fault, told, gone) for gone in told.ruled_out]
    if told.near:
        lines.append(Line(text=phrases.NEARLY_EQUAL, role=Role.HEADING))
        lines += [_line(fault, f"{work_name(fault, work)}.", (), Role.ITEM) for work in told.near]
    lines.append(left(fault, told.minutes_left))
    return tuple(lines)


def left(fault: FaultModel, value: float) -> Line:
    """How long it will still take."""
    said, computed = minutes(value)
    return _line(fault, f"{phrases.MINUTES_LEFT} {said} {phrases.MINUTES_TO_END}", computed)


def options(fault: FaultModel, works: Sequence[tuple[Work, float]]) -> tuple[Line, ...]:
    """Other actions with the minutes to the end that each would take."""
    lines = [Line(text=phrases.OTHERWISE, role=Role.HEADING)]
    for work, value in works:
        said, computed = minutes(value)
        lines.append(_line(fault, f"{work_name(fault, work)}: {said} min.", computed, Role.ITEM))
    return tuple(lines)


def signs(fault: FaultModel, told: Explanation) -> tuple[Line, ...]:
    """What the panel was seen to show, and which causes each speaks for and against."""
    if not told.codes:
        return ()
    lines = [Line(text=phrases.SEEN_ON_PANEL, role=Role.HEADING)]
    for sign in told.codes:
        speaks = ", ".join(cause_name(fault, cause) for cause in sign.speaks_for)
        against = ", ".join(cause_name(fault, cause) for cause in sign.against)
        said = f"{phrases.SPEAKS_FOR} {speaks}" if speaks else phrases.SPEAKS_OF_NONE
        if against:
            said = f"{said}, {phrases.AND_AGAINST} {against}" if speaks else f"{phrases.SPEAKS_AGAINST} {against}"
        text = f"{panel_words(sign.code)} {said}."
        lines.append(_line(fault, text, (sign.code,), Role.ITEM))
    return tuple(lines)


def panel_words(code: str) -> str:
    """The code as it is named in a sentence, or that there was none."""
    return phrases.NO_CODE_SEEN if code == NO_CODE else f"{phrases.A_CODE} {code}"


def _ruled_out(fault: FaultModel, told: Explanation, gone: RuledOut) -> Line:
    """A cause and what rules it out: a code by its name, an answer by its check, a repair that did not help by its title."""
    code = next((sign.code for sign in told.codes if sign.check == gone.by), "")
    name = cause_name(fault, gone.cause)
    if code:
        return _line(fault, f"{name}: {panel_words(code)}.", (code,), Role.ITEM)
    titles = {c.id: c.title for c in fault.checks} | {r.id: r.title for r in fault.repairs}
    answer = f" ({gone.outcome})" if gone.outcome else ""
    return _line(fault, f"{name}: {titles[gone.by]}{answer}.", (), Role.ITEM)


def _saving(fault: FaultModel, told: Explanation) -> Line:
    if told.saving_minutes < LEAST_SAVING:
        return _line(fault, phrases.COSTS_LITTLE, ())
    said, computed = minutes(told.saving_minutes)
    return _line(fault, f"{phrases.SAVES} {said} {phrases.SAVES_END}", computed)


def _leaves(fault: FaultModel, view: OutcomeView) -> Line:
    parts: list[str] = []
    computed: list[str] = []
    for chance in _worth_naming(view):
        said, figures = percent(chance.chance)
        parts.append(f"{cause_name(fault, chance.cause)} {said}")
        computed += figures
    return _line(fault, f"“{view.outcome}” {phrases.LEAVES} {', '.join(parts)}.", tuple(computed), Role.ITEM)


def _worth_naming(view: OutcomeView) -> tuple[Chance, ...]:
    return tuple(c for c in view.leaves if c.chance >= UNLIKELY)[:MOST_LEFT] or view.leaves[:1]


def _line(fault: FaultModel, text: str, computed: tuple[str, ...], role: Role = Role.SENTENCE) -> Line:
    return Line(text=text, role=role, source=fault.full_id, computed=computed)
