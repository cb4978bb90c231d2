"""What is declared of a calculator: its inputs, formula in words, sources, limit, what to do next, and how it is asked for."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from assistant.domain.calculation import Source, Verdict
from assistant.domain.terms import Hazard


@dataclass(frozen=True, slots=True, kw_only=True)
class Assumption:
    """What stands in for an input that nobody knows, and what that means for the result."""

    text: str
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Input:
    """One input of a calculator.

    `unit` is the one that the function takes ("" for a bare number); `choices` are the words of an input that is no figure;
    `many` takes several figures, `free` one in any unit, which the function is handed, `named` several names with a count each
    ("film break 12, jam 7"); `whole` wants a whole number; `above`, `least` and `most` bound what is not absurd, in `unit`.
    `said` are the words by which a figure in a sentence is given to this input (">film": right behind the figure); one that
    is `bare` takes a figure of its kind without them. `known` are names of authored values of a component or machine
    ("brake_gap.min" is the lower bound of a range). An `optional` input is never asked for.
    """

    meaning: str
    unit: str = ""
    ask: str = ""
    said: tuple[str, ...] = ()
    bare: bool = False
    choices: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    many: bool = False
    free: bool = False
    named: bool = False
    whole: bool = False
    above: float | None = None
    least: float | None = None
    most: float | None = None
    known: tuple[str, ...] = ()
    optional: bool = False
    assume: Assumption | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Calculator:
    """One calculator; `does` names its function as "module.function", `wishes` are groups of patterns that ask for it."""

    name: str
    title: str
    does: str
    formula: str
    sources: tuple[Source, ...]
    inputs: Mapping[str, Input]
    example: str
    limit: str = ""
    next: Mapping[Verdict, tuple[str, ...]] = field(default_factory=dict)
    hazards: tuple[Hazard, ...] = ()
    wishes: tuple[tuple[str, ...], ...] = ()
    trade: str = ""
