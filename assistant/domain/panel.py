"""What the panel of a machine shows -> the check of a fault that it answers."""

from __future__ import annotations

from collections.abc import Sequence

from assistant.domain.entries import Check, CheckOutcome, FaultModel, PanelCode
from assistant.domain.fault_log import Answered, ReadingNear

Seen = Answered | ReadingNear
NO_CODE = "none"
"""In place of a code: the panel was looked at and showed none."""
SHOWN, NOT_SHOWN = "shown", "not shown"
"""Outcomes of the check that a code of the panel is."""


def panel_name(code: str) -> str:
    """Id of the check that a code of the panel is; no authored id holds a space."""
    return "no code" if code == NO_CODE else f"code {code}"


def panel_check(panel: Sequence[PanelCode], causes: Sequence[str]) -> Check:
    """One look at the panel as a check: an outcome for each code, and the panel without one takes what they leave."""
    codes = [
        CheckOutcome(says=(panel_name(item.code),), likely={c: item.likely.get(c, item.default) for c in causes})
        for item in panel
    ]
    none = CheckOutcome(says=(panel_name(NO_CODE),), normal=True)
    return Check(id="panel", outcomes=(*codes, none))


def answers_to(fault: FaultModel, code: str) -> tuple[Seen, ...]:
    """What a code (or NO_CODE) on the panel answers of the fault's model; nothing where it does not bear on it.

    A code that stands at several outcomes of a check leaves those: the mean of their rows is its likelihood but for a factor.
    """
    found: list[Seen] = []
    for check in fault.checks:
        left = [outcome.says[0] for outcome in check.outcomes if code in outcome.codes]
        if len(left) == 1:
            found.append(Answered(check=check.id, outcome=left[0], seen=code))
        elif left:
            shares = tuple((outcome, 1.0 / len(left)) for outcome in left)
            found.append(ReadingNear(check=check.id, shares=shares, seen=code))
    if found:
        return tuple(found)
    known = fault.panel if code == NO_CODE else tuple(item for item in fault.panel if item.code == code)
    return (Answered(check=panel_name(code), outcome=SHOWN, seen=code),) if known else ()
