"""tables/*.yaml -> published tables with source, edition and standing; read between rows only where the source allows it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

import msgspec
import yaml

from assistant.calculation.units import rounded
from assistant.domain.calculation import Source, Standing
from assistant.errors import CalculationError

FOLDER = Path(__file__).with_name("tables")
NEAR = 1e-9
"""Relative; closer than this a figure is the row's own."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """A published table; `between` says whether the source lets one read between its rows, `rows` maps key -> columns."""

    title: str
    source: str
    standing: Standing
    key: str
    rows: Mapping[str, Any]
    unit: str = ""
    between: bool = False

    @property
    def cited(self) -> Source:
        """The table as a source."""
        return Source(text=self.source, standing=self.standing)

    def keys(self) -> tuple[float, ...]:
        """The keys as numbers, ascending."""
        return tuple(sorted(float(key) for key in self.rows))

    def row(self, key: float, slack: float = NEAR) -> tuple[float, Any]:
        """The row whose key is within a share of the wanted one.

        Raises:
            CalculationError: the table has no such row; its neighbours are named.

        """
        best = min(self.rows, key=lambda k: (abs(float(k) - key), float(k)))
        if abs(float(best) - key) <= slack * abs(float(best)):
            return float(best), self.rows[best]
        raise CalculationError(
            f"{self.title} has no row for {self.key} {rounded(key)} {self.unit}".strip() + ".", self._near(key)
        )

    def word(self, key: str) -> Any:
        """The row of a word.

        Raises:
            CalculationError: the table lacks it.

        """
        if key not in self.rows:
            raise CalculationError(f"{self.title} has no row for {self.key} {key}.", f"It has {', '.join(self.rows)}.")
        return self.rows[key]

    def read(self, key: float) -> float:
        """The value at a key, between rows by a straight line where the source allows it.

        Raises:
            CalculationError: outside of the rows, or between rows of a table that is not read between.

        """
        keys = self.keys()
        if not keys[0] <= key <= keys[-1]:
            raise CalculationError(
                f"{self.title} ends there: {self.key} {rounded(key)} {self.unit}".strip() + " is outside of it.",
                f"It goes from {rounded(keys[0])} to {rounded(keys[-1])} {self.unit}".strip() + ".",
            )
        if not self.between:
            return float(self.row(key)[1])
        by_key = {float(k): float(v) for k, v in self.rows.items()}
        low = max(k for k in keys if k <= key)
        high = min(k for k in keys if k >= key)
        share = 0.0 if high == low else (key - low) / (high - low)
        return by_key[low] + share * (by_key[high] - by_key[low])

    def _near(self, key: float) -> str:
        below = [k for k in self.keys() if k < key]
        above = [k for k in self.keys() if k > key]
        near = [rounded(k) for k in (*below[-1:], *above[:1])]
        return f"Its nearest rows are {' and '.join(near)} {self.unit}".strip() + ", and it is not read between rows."


@cache
def tables() -> Mapping[str, Table]:
    """Every table by name."""
    found: dict[str, Table] = {}
    for path in sorted(FOLDER.glob("*.yaml")):
        data = yaml.load(path.read_text(encoding="utf-8"), Loader=yaml.CSafeLoader)
        for name, row in data.items():
            rows = {str(key): value for key, value in row.pop("rows").items()}
            found[name] = msgspec.convert({**row, "rows": rows}, Table)
    return found


def table(name: str) -> Table:
    """A table by its name in the files."""
    return tables()[name]
