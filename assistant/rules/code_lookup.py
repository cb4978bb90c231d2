"""A number that is no code here -> what its first figure would stand for, and the codes near it."""

from __future__ import annotations

from collections.abc import Sequence

from assistant.domain.answer import Line, Role
from assistant.domain.entries import Code
from assistant.domain.knowledge import KnowledgeBase
from assistant.rules import phrases

MOST_NEAR = 4


def code_distance(a: str, b: str) -> tuple[int, int]:
    """How unlike two codes are: figures that differ place by place (an exchange of two counts one), then numerically."""
    differing = [i for i in range(3) if a[i] != b[i]]
    swapped = len(differing) == 2 and a[differing[0]] == b[differing[1]] and a[differing[1]] == b[differing[0]]
    return (1 if swapped else len(differing), abs(int(a) - int(b)))


def near_codes(knowledge: KnowledgeBase, digits: str, scope: str | None) -> tuple[Code, ...]:
    """Codes of the machine in scope nearest to the digits; ties by id."""
    codes = [code for code in knowledge.codes if scope in (None, code.pack)]
    ranked = sorted(codes, key=lambda code: (code_distance(digits, code.id), code.full_id))
    return tuple(code for code in ranked if code_distance(digits, code.id)[0] < 3)[:MOST_NEAR]


def unknown_code_lines(knowledge: KnowledgeBase, digits: str, scope: str | None, near: Sequence[Code]) -> list[Line]:
    """What can be said truly of a number that is no code."""
    named = phrases.UNKNOWN_CODE if scope else phrases.UNKNOWN_CODE_ANY
    lines = [
        Line(text=f"{digits} {named}", computed=(digits,))
    ]  # the digits are the user's own, in words or in figures
    subsystems = {m.pack: m.subsystems.get(digits[0], "") for m in knowledge.machines if scope in (None, m.pack)}
    known = tuple(text for text in subsystems.values() if text)
    if known:
        lines.append(Line(text=phrases.SUBSYSTEM, role=Role.HEADING))
        lines += [Line(text=f"{text}.", role=Role.ITEM) for text in dict.fromkeys(known)]
    if near:
        lines.append(Line(text=phrases.NEAR_CODES, role=Role.HEADING))
        lines += [Line(text=f"{code.id}, {code.title}", role=Role.ITEM, source=code.full_id) for code in near]
    return lines
