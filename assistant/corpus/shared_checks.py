"""Checks that stand in several faults, written once -> every fault with its checks in full."""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence

from assistant.domain.entries import Check, FaultModel

OWN = ("id", "outcomes", "default", "same_as")
"""What a check that is the same as another writes itself."""


def filled_in(faults: Sequence[FaultModel]) -> tuple[FaultModel, ...]:
    """Each check that names another with that one's words, minutes, state and tools; references must have been linted."""
    checks = {f"{fault.full_id}#{check.id}": check for fault in faults for check in fault.checks}

    def whole(check: Check) -> Check:
        if not check.same_as:
            return check
        own = {name: getattr(check, name) for name in OWN}
        return dataclasses.replace(checks[check.same_as], **own)

    return tuple(dataclasses.replace(fault, checks=tuple(whole(c) for c in fault.checks)) for fault in faults)
