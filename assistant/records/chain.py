"""Rows of a log -> their sha256, each over the one before it, so that a changed, lost or foreign row shows."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Protocol

BEGINNING = "0" * 64
"""What stands before the first row."""


class Chained(Protocol):
    """One row as stored; `row` counts from 1 without a gap, `chain` is its sha256 in hex."""

    @property
    def row(self) -> int:
        """Its place in the log."""

    @property
    def chain(self) -> str:
        """What its link was when it was written."""

    @property
    def content(self) -> tuple[str | int | float | None, ...]:
        """What the sha256 is taken over, behind the one before it."""

    @property
    def named(self) -> str:
        """Words by which a reader finds it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """An event of a job; `row` counts over all jobs, `seq` in its own."""

    row: int
    job: str
    seq: int
    at: str
    who: str
    kind: str
    body: str
    chain: str = ""

    @property
    def content(self) -> tuple[str | int | float | None, ...]:
        """Every column but the sha256 itself."""
        return (self.row, self.job, self.seq, self.at, self.who, self.kind, self.body)

    @property
    def named(self) -> str:
        """Its place in the log and in its job."""
        return f"row {self.row} (job {self.job}, event {self.seq})"


def link(before: str, row: Chained) -> str:
    """The sha256 in hex of a row behind the one with that sha256."""
    return hashlib.sha256(json.dumps([before, *row.content], default=repr).encode()).hexdigest()


def broken_links(rows: Iterable[Chained]) -> tuple[str, ...]:
    """What is wrong with the rows in their order; a changed row is named, the rows behind it are held to what it says."""
    faults: list[str] = []
    before, due = BEGINNING, 1
    for row in rows:
        if row.row != due:
            lost = f"row {due} is missing" if row.row == due + 1 else f"rows {due} to {row.row - 1} are missing"
            faults.append(lost)
        elif row.chain != link(before, row):
            faults.append(f"{row.named} is not what was written")
        before, due = row.chain, row.row + 1
    return tuple(faults)


def broken_seal(rows: Sequence[Chained], sealed: tuple[int, str] | None) -> tuple[str, ...]:
    """What is wrong with the end of the log, as (rows written, sha256 of the last) says it; None when that is lost."""
    count, chain = sealed if sealed is not None else (-1, "")
    last = rows[-1].row if rows else 0
    if count != last:
        return (f"{count} rows were written, the last one there is row {last}",)
    return ("the seal does not belong to the last row",) if rows and chain != rows[-1].chain else ()
