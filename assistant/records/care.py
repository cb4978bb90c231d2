"""Maintenance that was done, as rows, and when each task is due next by calendar, run hours or cycles."""

from __future__ import annotations

import calendar
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from assistant.calculation.upkeep import SOON
from assistant.domain.entries import Maintenance
from assistant.errors import CalculationError

_DAYS = {"day": 1, "week": 7}
_MONTHS = {"month": 1, "year": 12}
_HOURS, _CYCLES = ("h", "hour"), ("cycle",)


@dataclass(frozen=True, slots=True, kw_only=True)
class CareDone:
    """A maintenance entry that was done on a day, with the counters read then; `at` is when it was written down."""

    task: str
    day: str
    hours: float | None
    cycles: float | None
    who: str
    at: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Due:
    """When a task is due: `at` is a date or a counter's reading; `left` in days, hours or cycles, None where unknown."""

    task: str
    title: str
    every: str
    last: str
    at: str
    left: float | None
    standing: str


def due_next(
    tasks: Iterable[Maintenance], done: Sequence[CareDone], today: date, hours: float | None, cycles: float | None
) -> tuple[Due, ...]:
    """Every task, the most pressing first: overdue, due soon, never recorded, not judged, not due.

    Raises:
        CalculationError: an interval that is none, or a counter below its last reading.

    """
    order = ("overdue", "due soon", "no record", "counter not given", "not due")
    found = [_due(task, [c for c in done if c.task == task.full_id], today, hours, cycles) for task in tasks]
    return tuple(sorted(found, key=lambda d: (order.index(d.standing), d.at, d.task)))


def _due(task: Maintenance, done: Sequence[CareDone], today: date, hours: float | None, cycles: float | None) -> Due:
    every, unit = task.interval.value, task.interval.unit
    name = unit.removesuffix("s")
    if every is None or every <= 0 or name not in (*_DAYS, *_MONTHS, *_HOURS, *_CYCLES):
        raise CalculationError(
            f"{task.full_id} has an interval that cannot be counted: {every} {unit}.",
            "Write a value above zero in days, weeks, months, years, hours or cycles.",
        )
    if name in (*_DAYS, *_MONTHS):
        last = max((date.fromisoformat(c.day) for c in done), default=None)
        at = None if last is None else _later(last, every, name)
        left = None if at is None else float((at - today).days)
        whole = None if at is None or last is None else float((at - last).days)
        return _told(task, str(last or ""), str(at or ""), left, whole)
    reading, now = ([c.hours for c in done], hours) if name in _HOURS else ([c.cycles for c in done], cycles)
    read = max((r for r in reading if r is not None), default=None)
    if read is not None and now is not None and now < read:
        raise CalculationError(
            f"The counter stands below the last reading of {task.full_id}, {read:g}.",
            "Was it reset? Give both since the same zero.",
        )
    left = None if read is None or now is None else read + every - now
    return _told(task, "" if read is None else f"{read:g}", "" if read is None else f"{read + every:g}", left, every)


def _told(task: Maintenance, last: str, at: str, left: float | None, whole: float | None) -> Due:
    if not last:
        standing = "no record"
    elif left is None or whole is None:
        standing = "counter not given"
    elif left < 0:
        standing = "overdue"
    else:
        standing = "due soon" if whole - left >= SOON * whole else "not due"
    every = f"{task.interval.value:g} {task.interval.unit}"
    return Due(task=task.full_id, title=task.title, every=every, last=last, at=at, left=left, standing=standing)


def _later(last: date, every: float, name: str) -> date:
    """The day so many days or months later; the 31st becomes a shorter month's last day."""
    if name in _DAYS:
        return last + timedelta(days=round(every * _DAYS[name]))
    year, month = divmod(last.year * 12 + last.month - 1 + round(every * _MONTHS[name]), 12)
    return date(year, month + 1, min(last.day, calendar.monthrange(year, month + 1)[1]))
