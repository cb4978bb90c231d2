"""Knowledge -> the rows of its tables: one conductor for each wire, from the wiring and from the inputs and outputs."""

from __future__ import annotations

from collections.abc import Iterable

from assistant.corpus.prose import DESIGNATION
from assistant.domain.entries import Component, Part, Signal
from assistant.domain.knowledge import KnowledgeBase, Wire
from assistant.domain.tables import Conductor, Setting
from assistant.domain.terms import EntryId


def conductors_of(knowledge: KnowledgeBase) -> tuple[Conductor, ...]:
    """Every wire of every machine, by machine, then by its number."""
    controllers = {machine.pack: machine.controller for machine in knowledge.machines}
    rows = [_of_wire(wire) for wire in knowledge.wires]
    rows += [_of_signal(signal, controllers.get(signal.pack, "")) for signal in knowledge.signals]
    return tuple(sorted(rows, key=lambda row: (row.pack, number_order(row.wire))))


def number_order(number: str) -> tuple[int, str]:
    """Numbers by their size, letters after them."""
    return (int(number), "") if number.isdecimal() else (10**6, number)


def _of_wire(wire: Wire) -> Conductor:
    return Conductor(
        id=EntryId(f"{wire.pack}/wire/{wire.wire}"),
        pack=wire.pack,
        wire=wire.wire,
        terminal=wire.terminal,
        origin=wire.origin,
        to=wire.to,
        carries=wire.carries,
        names=tuple(dict.fromkeys(DESIGNATION.findall(f"{wire.origin} {wire.to}"))),
        colour=wire.colour,
        section=wire.section,
    )


def _of_signal(signal: Signal, controller: str) -> Conductor:
    port = f"{controller} {signal.id}".strip()
    ends = (signal.component, port) if signal.direction == "input" else (port, signal.component)
    return Conductor(
        id=EntryId(f"{signal.pack}/wire/{signal.wire}"),
        pack=signal.pack,
        wire=signal.wire,
        terminal=signal.terminal,
        origin=ends[0],
        to=ends[1],
        carries=signal.title,
        names=tuple(name for name in (signal.component, controller) if name),
        signal=signal.full_id,
    )


class Rows:
    """The tables, ready to be looked up."""

    def __init__(self, knowledge: KnowledgeBase) -> None:
        """Index once."""
        self.conductors = conductors_of(knowledge)
        self.signals: tuple[Signal, ...] = knowledge.signals
        self.settings: tuple[Setting, ...] = knowledge.settings
        self.parts: tuple[Part, ...] = knowledge.parts
        self.components: dict[tuple[str, str], Component] = {(c.pack, c.id): c for c in knowledge.components}
        self.machine_names = {machine.pack: machine.name for machine in knowledge.machines}

    def cited(self) -> dict[EntryId, object]:
        """What an answer may cite beside the entries, by its id."""
        found: dict[EntryId, object] = {row.id: row for row in self.conductors}
        found.update((setting.full_id, setting) for setting in self.settings)
        return found

    def wires(self, number: str) -> tuple[Conductor, ...]:
        """The wires of that number, one a machine."""
        return tuple(row for row in self.conductors if row.wire == number)

    def on_terminal(self, rail: str, number: str) -> tuple[Conductor, ...]:
        """What lands on the terminal; without a rail, on any terminal of that number."""
        return tuple(
            row for row in self.conductors if row.terminal.split(":", 1) == [rail or row.terminal.split(":")[0], number]
        )

    def at(self, pack: str, names: Iterable[str]) -> tuple[Conductor, ...]:
        """The wires of a machine one of whose ends names one of the components; signals first."""
        wanted = set(names)
        rows = [row for row in self.conductors if row.pack == pack and wanted & set(row.names)]
        return tuple(sorted(rows, key=lambda row: (row.signal is None, number_order(row.wire))))

    def signal_of(self, row: Conductor) -> Signal | None:
        """The input or output that a wire belongs to."""
        return next((s for s in self.signals if s.full_id == row.signal), None)
