"""Authored files -> what was written and leads nowhere: values that nothing refers to, guarded work that never isolates."""

from __future__ import annotations

import dataclasses
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from assistant.corpus.draftbook import Draftbook
from assistant.corpus.figures import UNTOUCHED, format_value, references
from assistant.corpus.lint import GUARDED
from assistant.domain.entries import Authored, Maintenance, Procedure
from assistant.domain.terms import Energy, Hazard, Value
from eval.tables import Table

ISOLATES = re.compile(
    r"\bisolate\b|isolate-and-prove-dead|\bprov\w+ (?:\w+ ){0,3}dead\b|\block(?:ed)? (?:it |\w+ ){0,2}(?:out|off)\b",
    re.IGNORECASE,
)
"""Words of a step that isolates; "isolated" alone may say what comes later."""
LIVE_HAZARDS = frozenset({Hazard.ELECTRIC_SHOCK, Hazard.STORED_ENERGY})
OPENING = 3
"""Steps among which the isolating one belongs, as the lint has it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class UnusedValue:
    """A value that no text refers to; `owner` an entry, `machine <pack>`, `trade` or `energy`."""

    owner: str
    name: str
    printed: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Unisolated:
    """Work with guarded hazards that never isolates, or not at its beginning; `rank` 0 is the gravest."""

    rank: int
    entry: str
    energy: Energy
    hazards: tuple[Hazard, ...]
    why: str


def texts_of(item: Any) -> Iterator[str]:
    """Every text of an authored thing in which a brace is a reference."""
    if isinstance(item, str):
        yield item
    elif isinstance(item, tuple):
        for part in item:
            yield from texts_of(part)
    elif dataclasses.is_dataclass(item) and not isinstance(item, Value):
        for f in dataclasses.fields(item):
            if f.name not in UNTOUCHED:
                yield from texts_of(getattr(item, f.name))


def unused_values(book: Draftbook) -> tuple[UnusedValue, ...]:
    """Values of entries, machines, trade and energy rules that no text refers to, by owner and name.

    A name is looked up as the reader does it: the entry's own first, then its machine's, the trade's, the energy rules'.
    """
    owners = _owners(book)
    used: set[tuple[str, str]] = set()
    for item, chain in _readers(book):
        for name in {name for text in texts_of(item) for name in references(text)}:
            owner = next((o for o in chain if name in owners.get(o, {})), "")
            used.add((owner, name))
    unused = [(o, n, v) for o, values in owners.items() for n, v in values.items() if (o, n) not in used]
    return tuple(
        UnusedValue(owner=o, name=n, printed=format_value(v)) for o, n, v in sorted(unused, key=lambda u: u[:2])
    )


def _owners(book: Draftbook) -> dict[str, Mapping[str, Value]]:
    owners: dict[str, Mapping[str, Value]] = {f"machine {pack}": m.values for pack, m in book.machines.items()}
    owners["trade"] = book.trade_values
    owners["energy"] = book.energy.values if book.energy else {}
    for item in book.items:
        if isinstance(item, Authored):
            owners[str(item.full_id)] = item.values
    return owners


def _readers(book: Draftbook) -> Iterator[tuple[Any, tuple[str, ...]]]:
    for item in book.items:
        name = str(getattr(item, "full_id", ""))
        yield item, (name, f"machine {getattr(item, 'pack', '')}", "trade", "energy")
    for pack, machine in book.machines.items():
        yield machine, ("", f"machine {pack}", "trade", "energy")
    if book.energy:
        yield book.energy, ("", "", "trade", "energy")


def unused_table(found: tuple[UnusedValue, ...]) -> Table:
    """A value a row."""
    return Table(
        title="Values that nothing refers to",
        note="Written in `values:` and printed nowhere: say it in a sentence, or take it out.",
        header=("owner", "value", "reads"),
        rows=tuple((v.owner, v.name, v.printed) for v in found),
    )


def unisolated(book: Draftbook) -> tuple[Unisolated, ...]:
    """Procedures and maintenance with guarded hazards and no isolating step, gravest first.

    The procedure that isolates is none of them: an entry whose title or id says so.
    """
    found = []
    for item in (*book.of(Procedure), *book.of(Maintenance)):
        guarded = tuple(sorted(GUARDED & set(item.hazards)))
        if not guarded or ISOLATES.search(f"{item.id} {item.title}"):
            continue
        steps = [step.do for step in (item.steps if isinstance(item, Procedure) else item.tasks)]
        first = next((i for i, text in enumerate(steps) if ISOLATES.search(text)), None)
        rank, why = _judged(item.energy, guarded, first)
        if why:
            entry = Unisolated(rank=rank, entry=str(item.full_id), energy=item.energy, hazards=guarded, why=why)
            found.append(entry)
    return tuple(sorted(found, key=lambda u: (u.rank, u.entry)))


def _judged(energy: Energy, hazards: tuple[Hazard, ...], first: int | None) -> tuple[int, str]:
    if first is not None:
        return (2, f"isolates only in step {first + 1}") if first >= OPENING and energy is Energy.ISOLATED else (0, "")
    if energy is Energy.ISOLATED:
        return 0, "isolated work, and no step isolates"
    if LIVE_HAZARDS & set(hazards):
        return (
            1,
            f"names {' and '.join(h for h in hazards if h in LIVE_HAZARDS)}, is done {energy}, and no step isolates",
        )
    return 3, f"done {energy}: held still by a stop alone"


def unisolated_table(found: tuple[Unisolated, ...]) -> Table:
    """A procedure a row."""
    return Table(
        title="Hazards that need isolation, and no isolating step",
        note="Procedures and maintenance with shock, stored energy, entanglement, crushing or a falling load, gravest first; where a stop alone holds, a step should say what keeps the parts still.",
        header=("entry", "energy", "hazards", "why"),
        rows=tuple((u.entry, str(u.energy), ", ".join(u.hazards), u.why) for u in found),
    )
