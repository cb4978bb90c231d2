"""References of steps and outcomes -> the authored figures that a reading taken there is held against."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable
from typing import Any

from assistant.corpus.draftbook import Tables
from assistant.corpus.figures import find_value, references
from assistant.domain.entries import FaultModel, Procedure, Step
from assistant.domain.terms import Value


def with_limits(item: Any, resolved: Any, tables: Tables) -> Any:
    """The resolved entry with the limits of its steps or of its checks' outcomes."""
    if isinstance(item, Procedure):
        return dataclasses.replace(
            resolved,
            steps=_steps(item.steps, resolved.steps, tables),
            prove=_steps(item.prove, resolved.prove, tables),
        )
    if isinstance(item, FaultModel):
        names = {
            name
            for check in item.checks
            for outcome in check.outcomes
            for name in (outcome.within, outcome.below, outcome.above)
            if name
        }
        found = {name: find_value(name, tables) for name in sorted(names)}
        return dataclasses.replace(resolved, limits={n: v for n, v in found.items() if v is not None})
    return resolved


def _steps(written: Iterable[Step], resolved: Iterable[Step], tables: Tables) -> tuple[Step, ...]:
    return tuple(
        dataclasses.replace(step, limits=_limits(source.expect, tables) or _limits((source.do,), tables))
        for source, step in zip(written, resolved, strict=True)
    )


def _limits(texts: Iterable[str], tables: Tables) -> tuple[Value, ...]:
    names = dict.fromkeys(name for text in texts for name in references(text))
    values = (find_value(name, tables) for name in names)
    return tuple(value for value in values if value is not None and not value.text)
