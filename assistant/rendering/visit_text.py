"""A prepared visit -> lines for a terminal."""

from __future__ import annotations

from assistant.domain.visit import Visit
from assistant.records.visit_wording import (
    ALWAYS,
    LEAST_SHOWN,
    OTHERS,
    carried_groups,
    other_causes,
    percent,
    time_needed,
    why_so_much,
)
from assistant.rendering.terminal import wrapped

WIDTH = 80


def visit_lines(visit: Visit, width: int = WIDTH) -> list[str]:
    """Warnings first, then what is likely, what to bring and leave, who, how long, what to ask."""
    lines = [*visit.warnings, "" if visit.warnings else f"Visit: {visit.complaint}"]
    if visit.warnings:
        lines.append(f"Visit: {visit.complaint}")
    lines += ["", *_likely(visit), "", *_bring(visit)]
    if visit.leave:
        lines += ["", "Left behind; each would add:"]
        lines += [f"  {percent(item.finish_lost):>5}  {item.name}" for item in visit.leave]
    lines += ["", f"Time at the machine: {time_needed(visit)}."]
    if visit.who:
        lines += ["", "Who:", *(f"  {text}" for text in visit.who)]
    if visit.ask:
        lines += ["", "Ask the caller now:"]
        for question in visit.ask:
            lines.append(f"  {question.title}: {' / '.join(question.outcomes)}?")
            lines += [f"      {text}" for text in question.how]
    return [part for line in lines for part in _wrapped(line, width)]


def _likely(visit: Visit) -> list[str]:
    if len(visit.faults) == 1:
        lines = [f"Complaint, as it is known here: {visit.faults[0][0]}"]
    else:
        lines = [
            "Complaint, as it is known here:",
            *(f"  {percent(share):>5}  {title}" for title, share in visit.faults),
        ]
    counted = f", with code {' and '.join(visit.codes)} on the panel counted" if visit.codes else ""
    lines += [
        "",
        f"Likely causes{counted}:",
        *(f"  {percent(cause.chance):>5}  {cause.name}" for cause in visit.causes),
    ]
    rest = other_causes(visit)
    return [*lines, f"  {percent(rest):>5}  {OTHERS}"] if rest >= LEAST_SHOWN else lines


def _bring(visit: Visit) -> list[str]:
    always = [ALWAYS] if visit.isolates else []
    if not visit.bring:
        return ["Bring nothing particular.", why_so_much(visit), *always]
    lines = ["Bring:", why_so_much(visit), *always]
    for heading, items in carried_groups(visit):
        lines += [f"  {heading}:", *(f"    {name}: {told}" for name, told in items)]
    return lines


def _wrapped(line: str, width: int) -> list[str]:
    """The line within the width; what follows hangs below its text."""
    indent = len(line) - len(line.lstrip())
    return wrapped(line, width, " " * (indent + 2 if indent else 0))
