"""The closed lists and small values that the events of a job are made of."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import NewType

JobId = NewType("JobId", str)
"""Date of opening and a counter of that day: `2026-11-25-1`."""


class EventKind(StrEnum):
    """Kinds of event; the values are stored and exported, so they never change their meaning."""

    OPENED = "opened"
    FAULT_NAMED = "fault-named"
    EVIDENCE_SEEN = "evidence-seen"
    CHECK_ANSWERED = "check-answered"
    READING_TAKEN = "reading-taken"
    NOT_KNOWN = "not-known"
    CHECK_IMPOSSIBLE = "check-impossible"
    ANSWER_REVISED = "answer-revised"
    REPAIR_DONE = "repair-done"
    REPAIR_IMPOSSIBLE = "repair-impossible"
    PROOF_PASSED = "proof-passed"
    PROOF_FAILED = "proof-failed"
    PROCEDURE_STARTED = "procedure-started"
    STEP_CONFIRMED = "step-confirmed"
    HOLD_CONFIRMED = "hold-confirmed"
    STEP_SKIPPED = "step-skipped"
    PROCEDURE_STOPPED = "procedure-stopped"
    VALUE_ASKED = "value-asked"
    ENERGY_DECLARED = "energy-declared"
    ISOLATION_ITEM = "isolation-item"
    ISOLATION_VOIDED = "isolation-voided"
    WARNINGS_SHOWN = "warnings-shown"
    QUESTION_ASKED = "question-asked"
    NOTE_TAKEN = "note-taken"
    LEFT = "left"
    RESUMED = "resumed"
    CLOSED = "closed"
    AMENDED = "amended"


class Verdict(StrEnum):
    """How a value lies against its authored limits; unclear when the meter's tolerance reaches over a limit."""

    WITHIN = "within"
    BELOW = "below"
    ABOVE = "above"
    UNCLEAR = "unclear"


class Standing(StrEnum):
    """What holds of a check after all that was said of it."""

    ANSWERED = "answered"
    NEAR_LIMIT = "near-limit"
    NOT_KNOWN = "not-known"
    IMPOSSIBLE = "impossible"
    OPEN = "open"


@dataclass(frozen=True, slots=True, kw_only=True)
class Share:
    """A share, 0 to 1, of a cause in what was found, or of an outcome that a reading may stand for."""

    name: str
    share: float


@dataclass(frozen=True, slots=True, kw_only=True)
class PartUsed:
    """A part (entry id) and how many of it."""

    part: str
    quantity: int = 1
