"""Text that was heard -> what of it must be read back before it is acted on, in the words in which it is read back."""

from __future__ import annotations

import re
from collections.abc import Collection
from dataclasses import dataclass
from decimal import Decimal

from assistant.dialogue.panel_words import panel_part
from assistant.domain.terms import Energy
from assistant.domain.turn import Pending, PendingKind
from assistant.recognition.readings import readings_in
from assistant.recognition.saying import cardinal, say_code, say_figure
from assistant.recognition.spoken_forms import NAMING_WORDS, codes_in, designations_in
from assistant.recognition.wire_forms import TerminalMention, terminals_in, wires_in
from assistant.rules import energy_state, phrases

DECLARED = {
    Energy.ISOLATED: "the machine is isolated",
    Energy.STOPPED: "the machine is stopped",
    Energy.RUNNING: "the machine runs, or power is on",
}
_UNCLEAR_CODE = re.compile(rf"\b(?:{'|'.join(sorted(NAMING_WORDS))})\b\W+(?:\d\W*){{1,2}}(?!\W*\d)|\b\d{{4,}}\b")
"""A code with too few figures, or more of them in one run than any code has."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Critical:
    """What is read back: `parts` in words without a figure; `codes` among them; `unclear` when a code was not whole."""

    parts: tuple[str, ...]
    codes: tuple[str, ...] = ()
    unclear: bool = False


def critical_in(text: str, designations: Collection[str], pending: Pending | None) -> Critical:
    """Codes, wires, terminals, known designations, readings and declarations in the order of that list."""
    codes = tuple(mention.digits for mention in codes_in(text))
    parts = [f"code {say_code(code)}" for code in codes]
    terminals = terminals_in(text)
    parts += [f"wire {_number(number)}" for number in wires_in(text)]
    parts += [_terminal(terminal) for terminal in terminals]
    rails = {terminal.rail for terminal in terminals}  # said with their terminals
    parts += [_designation(name) for name in designations_in(text, designations) if name not in rails]
    parts += _readings(text, codes, pending)
    choices = tuple(choice.lower() for choice in pending.choices) if pending is not None else ()
    # an outcome that was named, and at a proof "the code is gone", answer what was asked
    if phrases.PASSED not in choices and text.strip(" .!").lower() not in choices and panel_part(text):
        parts.append(panel_part(text))
    energy = energy_state.declared(text) or _offered(text, pending)
    if energy is None and energy_state.speaks_of_power(text):
        energy = Energy.RUNNING
    if energy is not None:
        parts.append(DECLARED[energy])
    unclear = not codes and bool(_UNCLEAR_CODE.search(text.lower())) and not any(r.unit for r in readings_in(text))
    return Critical(parts=tuple(dict.fromkeys(parts)), codes=codes, unclear=unclear)


def _offered(text: str, pending: Pending | None) -> Energy | None:
    """The state that a bare word declares where the question offers it: "stopped" to "running, stopped, or isolated?"."""
    word = text.strip(" .,!").lower()
    offered = pending is not None and word in (choice.lower() for choice in pending.choices)
    return next((energy for energy in DECLARED if offered and word == energy), None)


def _designation(name: str) -> str:
    letters = name.rstrip("0123456789")
    return f"{' '.join(letters)} {cardinal(int(name[len(letters) :]))}"


def _number(number: str) -> str:
    return cardinal(int(number)) if number.isdecimal() else " ".join(number)


def _terminal(terminal: TerminalMention) -> str:
    of = f" of {_designation(terminal.rail)}" if terminal.rail else ""
    return f"terminal {_number(terminal.number)}{of}"


def _readings(text: str, codes: tuple[str, ...], pending: Pending | None) -> list[str]:
    """Figures with a unit; without one only where a reading is asked for."""
    asked = pending is not None and pending.kind is PendingKind.READING
    found = [(_in_figures(r.value), r.unit) for r in readings_in(text)]
    return [say_figure(figure, unit) for figure, unit in found if unit or (asked and figure not in codes)]


def _in_figures(value: float) -> str:
    """Every figure of it and no power of ten, so that what is read back is what is recorded."""
    return f"{Decimal(repr(value)):f}".removesuffix(".0")
