"""calculators/*.yaml -> every calculator by name, and the function of each; read when first needed."""

from __future__ import annotations

import difflib
import importlib
from collections.abc import Callable, Mapping
from functools import cache
from pathlib import Path
from typing import Any, cast

import msgspec
import yaml

from assistant.calculation.declaration import Calculator
from assistant.calculation.worked import Worked
from assistant.errors import CalculationError

DECLARATIONS = Path(__file__).with_name("calculators")
TRADES = (
    "motor",
    "winding",
    "wiring",
    "protection",
    "capacitor",
    "sensing",
    "signal",
    "transmission",
    "motion",
    "fastening",
    "air",
    "film",
    "load",
    "upkeep",
)
"""The files, in the order in which they are listed."""


@cache
def calculators() -> Mapping[str, Calculator]:
    """Every calculator by name, in the order of the files."""
    found: dict[str, Calculator] = {}
    for trade in TRADES:
        path = DECLARATIONS / f"{trade}.yaml"
        rows = yaml.load(path.read_text(encoding="utf-8"), Loader=yaml.CSafeLoader)
        for row in rows:
            calculator = msgspec.convert({**row, "trade": trade}, Calculator)
            found[calculator.name] = calculator
    return found


def calculator_named(name: str) -> Calculator:
    """The calculator of that name.

    Raises:
        CalculationError: there is none; the nearest are offered.

    """
    plain = name.strip().lower().replace("_", "-").replace(" ", "-")
    known = calculators()
    if plain not in known:
        near = difflib.get_close_matches(plain, known, n=3, cutoff=0.5)
        near += [other for other in known if plain and plain in other and other not in near][:3]
        hint = f"Near it: {', '.join(near)}." if near else "`handlamp calc` lists all."
        raise CalculationError(f"There is no calculator `{name}`.", hint)
    return known[plain]


def function_of(calculator: Calculator) -> Callable[..., Worked]:
    """What computes it."""
    module, _, name = calculator.does.partition(".")
    found: Any = getattr(importlib.import_module(f"assistant.calculation.{module}"), name)
    return cast(Callable[..., Worked], found)
