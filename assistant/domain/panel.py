"""What the panel of a machine shows -> the check of a fault that it answers."""

from __future__ import annotations

from collections.abc import Sequence

from assistant.domain.entries import Check, CheckOutcome, FaultModel, PanelCode
from assistant.domain.fault_log import Answered

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


def answers_to(fault: FaultModel, code: str) -> tuple[Answered, ...]:
    """What a code (or NO_CODE) on the panel answers of the fault's model; nothing where it does not bear on it."""
    found = [
        Answered(check=check.id, outcome=outcome.says[0], seen=code)
        for check in fault.checks
        for outcome in check.outcomes
        if code in outcome.codes
    ]
    if found:
        return tuple(found)
    known = fault.panel if code == NO_CODE else tuple(item for item in fault.panel if item.code == code)
    return (Answered(check=panel_name(code), outcome=SHOWN, seen=code),) if known else ()
