"""A prepared visit -> lines for a terminal."""

from __future__ import annotations

from assistant.domain.visit import Carried, Visit

LEAST_SHOWN = 0.005
"""A loss below half a percent is not printed as a figure."""


def visit_lines(visit: Visit) -> list[str]:
    """Warnings first, then what is likely, what to bring and leave, who, how long, what to ask."""
    lines = [*visit.warnings, "" if visit.warnings else f"Visit: {visit.complaint}"]
    if visit.warnings:
        lines.append(f"Visit: {visit.complaint}")
    lines += ["", "Complaint, as it is known here:"]
    lines += [f"  {percent(share):>5}  {title}" for title, share in visit.faults]
    counted = f", with code {' and '.join(visit.codes)} on the panel counted" if visit.codes else ""
    lines += ["", f"Likely causes{counted}:"]
    lines += [f"  {percent(cause.chance):>5}  {cause.name}" for cause in visit.causes]
    lines += ["", f"Bring (to finish in one visit in {percent(visit.chance)}, asked for {percent(visit.target)}):"]
    lines += [f"  {carried(item)}" for item in visit.bring] or ["  nothing particular"]
    if visit.leave:
        lines += ["", f"Left behind (with everything it would be {percent(visit.chance_with_all)}); each would add:"]
        lines += [f"  {percent(item.finish_lost):>5}  {item.name}" for item in visit.leave]
    lines += [
        "",
        f"Time at the machine: about {visit.minutes:.0f} min, mostly {visit.low_minutes:.0f} to {visit.high_minutes:.0f}.",
    ]
    if visit.who:
        lines += ["", "Who:", *(f"  {text}" for text in visit.who)]
    if visit.ask:
        lines += ["", "Ask the caller now:"]
        for question in visit.ask:
            lines.append(f"  {question.title}: {' / '.join(question.outcomes)}?")
            lines += [f"      {text}" for text in question.how]
    return lines


def percent(chance: float) -> str:
    """Whole percent, never none and never all."""
    return f"{min(99, max(1, round(100 * chance)))} %"


def carried(item: Carried) -> str:
    """What it is and what it decides."""
    if item.finish_lost >= LEAST_SHOWN:
        return f"{item.name}: without it {percent(item.finish_lost)} less"
    return f"{item.name}: wanted by a check in {percent(item.wanted)}" if item.wanted >= LEAST_SHOWN else item.name
