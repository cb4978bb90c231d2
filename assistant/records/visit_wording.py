"""A prepared visit -> the sentences that text and page have in common, so that its figures add up in both."""

from __future__ import annotations

from assistant.domain.visit import Carried, Visit

LEAST_SHOWN = 0.005
"""A chance below half a percent is not printed as a figure."""
ALWAYS = (
    "Your own lock and tag, a tester and a source to prove it on go along in any case: something here is done isolated."
)
OTHERS = "other causes, and what is not on the list"


def percent(chance: float) -> str:
    """Whole percent, never none and never all."""
    return f"{min(99, max(1, round(100 * chance)))} %"


def other_causes(visit: Visit) -> float:
    """The chance that is left for causes which are not named, so that the list sums to one."""
    return max(0.0, 1.0 - sum(cause.chance for cause in visit.causes))


def why_so_much(visit: Visit) -> str:
    """What the chance of finishing means, and why it is not the one that was asked for where it is not."""
    told = f"With all of this the job ends in one visit with a chance of {percent(visit.chance)}."
    if visit.chance < visit.target - LEAST_SHOWN:
        return (
            f"{told} {percent(visit.target)} was asked for; nothing else that is written here would add to it, "
            "because some causes have no sure cure and some are not on the list."
        )
    less = f"It is the least that reaches the {percent(visit.target)} asked for"
    if visit.chance_with_all < visit.chance + LEAST_SHOWN:
        return f"{told} {less}; more would add nothing."
    return f"{told} {less}; with everything it would be {percent(visit.chance_with_all)}."


def decides(item: Carried, visit: Visit) -> str:
    """What an item decides: the chance that is left without it, or what else it is for."""
    if item.finish_lost >= LEAST_SHOWN:
        return f"without it {percent(visit.chance - item.finish_lost)}"
    if item.wanted >= LEAST_SHOWN:
        return f"for a check that comes with a chance of {percent(item.wanted)}"
    return "for one of several ways to mend it"


def time_needed(visit: Visit) -> str:
    """Minutes at the machine with the ends of their 80 % interval."""
    ends = f"{visit.low_minutes:.0f} and {visit.high_minutes:.0f}"
    return f"about {visit.minutes:.0f} min; in four visits of five between {ends}"


def carried_groups(visit: Visit) -> list[tuple[str, list[tuple[str, str]]]]:
    """Tools, then parts, as far as any are to be brought: each (name, what it decides), by what it decides."""
    groups = [
        (name, most_telling_first(visit.bring, parts=parts)) for name, parts in (("Tools", False), ("Parts", True))
    ]
    return [(name, [(item.name, decides(item, visit)) for item in items]) for name, items in groups if items]


def most_telling_first(items: tuple[Carried, ...], *, parts: bool) -> tuple[Carried, ...]:
    """The parts, or the tools, of a list, by what they decide."""
    chosen = [item for item in items if item.part is parts]
    return tuple(sorted(chosen, key=lambda item: (-item.finish_lost, -item.wanted, item.name)))
