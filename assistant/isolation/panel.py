"""What the panel was seen to show, or no longer -> the log with it: only what was seen moves the belief."""

from __future__ import annotations

from assistant.domain.entries import FaultModel
from assistant.domain.fault_log import Answered, Event, Log, Revised
from assistant.domain.isolation import IsolationModel
from assistant.domain.panel import NO_CODE, answers_to
from assistant.isolation.progress import edited, progress


def seen(model: IsolationModel, fault: FaultModel, log: Log, code: str) -> Log:
    """The log with a code seen on the panel, or with the panel seen without one; the same log where nothing is new.

    A panel without a code takes back every code seen before, and a code takes back that there was none.

    Raises:
        IsolationError: the log does not fit the model.

    """
    answers = answers_to(fault, code)
    if not answers:
        return log
    for old in counted(model, log):
        if (old.seen == NO_CODE) != (code == NO_CODE):
            log = _without(log, old)
    for answer in answers:
        log = _with(model, log, answer)
    return log


def taken_back(model: IsolationModel, log: Log, code: str = "") -> Log:
    """The log without that code, or without any: as if it had never been seen.

    Raises:
        IsolationError: the log does not fit the model.

    """
    for old in counted(model, log):
        if code in ("", old.seen):
            log = _without(log, old)
    return log


def counted(model: IsolationModel, log: Log) -> tuple[Answered, ...]:
    """What the panel showed and what still counts, in the order in which it was seen.

    Raises:
        IsolationError: the log does not fit the model.

    """
    at = progress(model, log)
    last = {event.check: event for event in edited(log) if isinstance(event, Answered)}
    return tuple(e for e in last.values() if e.seen and at.answers[model.check_index(e.check)] is not None)


def _with(model: IsolationModel, log: Log, answer: Answered) -> Log:
    """A check answered in another way before is answered anew; one answered so already stays as it is."""
    index = model.check_index(answer.check)
    check, before = model.checks[index], progress(model, log).answers[index]
    if before is not None and before[check.outcomes.index(answer.outcome)] == 1.0:
        return log
    opened: tuple[Event, ...] = () if before is None else (Revised(check=answer.check, to=None),)
    return (*log, *opened, answer)


def _without(log: Log, old: Answered) -> Log:
    return (*log, Revised(check=old.check, to=None))
