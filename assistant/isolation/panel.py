"""What the panel was seen to show, or no longer -> the log with it: only what was seen moves the belief."""

from __future__ import annotations

from assistant.domain.entries import FaultModel
from assistant.domain.fault_log import Event, Log, Revised, Said
from assistant.domain.isolation import IsolationModel
from assistant.domain.panel import NO_CODE, Seen, answers_to
from assistant.isolation.progress import edited, progress, shares_of


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


def counted(model: IsolationModel, log: Log) -> tuple[Seen, ...]:
    """What the panel showed and what still counts, in the order in which it was seen.

    Raises:
        IsolationError: the log does not fit the model.

    """
    at = progress(model, log)
    last: dict[str, Event] = {event.check: event for event in edited(log) if isinstance(event, Said)}
    seen_last = [event for event in last.values() if isinstance(event, Seen) and event.seen]
    return tuple(event for event in seen_last if at.answers[model.check_index(event.check)] is not None)


def _with(model: IsolationModel, log: Log, answer: Seen) -> Log:
    """A check answered in another way before is answered anew; one answered so already, or more closely, stays as it is."""
    before = progress(model, log).answers[model.check_index(answer.check)]
    left = shares_of(model, answer)
    if before is not None and left is not None and all(new or not old for old, new in zip(before, left, strict=True)):
        return log
    opened: tuple[Event, ...] = () if before is None else (Revised(check=answer.check, to=None),)
    return (*log, *opened, answer)


def _without(log: Log, old: Seen) -> Log:
    return (*log, Revised(check=old.check, to=None))
