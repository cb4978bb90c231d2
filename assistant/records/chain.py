"""Rows of the log -> their sha256, each over the one before it, so that a changed, lost or foreign row shows."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable
from dataclasses import dataclass

BEGINNING = "0" * 64
"""What stands before the first row."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One row of the log as stored; `row` counts from 1 over all jobs, `chain` is its sha256 in hex."""

    row: int
    job: str
    seq: int
    at: str
    who: str
    kind: str
    body: str
    chain: str = ""


def link(before: str, row: Row) -> str:
    """The sha256 in hex of a row behind the one with that sha256."""
    text = json.dumps([before, row.row, row.job, row.seq, row.at, row.who, row.kind, row.body])
    return hashlib.sha256(text.encode()).hexdigest()


def broken_links(rows: Iterable[Row]) -> tuple[str, ...]:
    """What is wrong with the rows in their order; a changed row is named, the rows behind it are held to what it says."""
    faults: list[str] = []
    before, due = BEGINNING, 1
    for row in rows:
        if row.row != due:
            lost = f"row {due} is missing" if row.row == due + 1 else f"rows {due} to {row.row - 1} are missing"
            faults.append(lost)
        elif row.chain != link(before, row):
            faults.append(f"row {row.row} (job {row.job}, event {row.seq}) is not what was written")
        before, due = row.chain, row.row + 1
    return tuple(faults)
