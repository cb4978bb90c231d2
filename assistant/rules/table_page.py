"""A row of a machine's tables, or the want of one -> the lines that show it, each cited to the row or entry it stands in."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from assistant.corpus.figures import format_value
from assistant.domain.answer import Line, Outcome, Role
from assistant.domain.entries import Part, Signal
from assistant.domain.tables import Conductor, Setting
from assistant.domain.terms import EntryId, Hazard
from assistant.retrieval.rows import Rows
from assistant.rules import phrases

MOST_PLACES = 3
"""Components whose place is told; of more than these only the first one's, a wire's rail."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TablePage:
    """What is shown of a table, what it is taken from, and the hazards of what it names."""

    lead: Line
    lines: tuple[Line, ...]
    cited: tuple[EntryId, ...]
    hazards: tuple[Hazard, ...]
    outcome: Outcome = Outcome.ANSWERED


class TablePages:
    """Writes the pages."""

    def __init__(self, rows: Rows) -> None:
        """Keep the tables."""
        self._rows = rows

    def wires(self, rows: Sequence[Conductor], *, by_terminal: bool) -> TablePage:
        """One or a few wires of a machine, named by their number or by the terminal."""
        first = rows[0]
        lines: list[Line] = []
        for other in rows[1:]:
            lines.append(_told(other, by_terminal=by_terminal, role=Role.ITEM))
        for row in rows:
            lines += self._details(row)
        names = [(row.pack, name) for row in rows for name in (row.terminal.split(":")[0], *row.names)]
        signals = [signal for row in rows if (signal := self._rows.signal_of(row)) is not None]
        lines += self._places(first.pack, [name for _, name in names])
        return TablePage(
            lead=_told(first, by_terminal=by_terminal),
            lines=tuple(lines),
            cited=(*(row.id for row in rows), *(signal.full_id for signal in signals)),
            hazards=self._hazards(names, (Hazard.ELECTRIC_SHOCK, *(h for s in signals for h in s.hazards))),
        )

    def fuse(self, row: Conductor) -> TablePage:
        """The fuse that a wire comes from, and what else hangs on it."""
        fuse = self._rows.components[row.pack, row.origin]
        rating = [Line(text=phrases.RATING, role=Role.HEADING)] if fuse.rating is not None else []
        rating += [Line(text=f"{format_value(fuse.rating)}.", source=fuse.full_id)] if fuse.rating is not None else []
        return TablePage(
            lead=Line(text=f"{fuse.id} ({fuse.name}): {fuse.location[0]}", source=fuse.full_id),
            lines=(*rating, _told(row, by_terminal=False), *self._details(row)),
            cited=(fuse.full_id, row.id),
            hazards=self._hazards([(row.pack, row.origin)], (Hazard.ELECTRIC_SHOCK,)),
        )

    def signals(self, signals: Sequence[Signal]) -> TablePage:
        """An input or output, or the few of one component."""
        lines: list[Line] = [_signal(signal, Role.ITEM) for signal in signals[1:]]
        for signal in signals:
            lines += _states(signal)
        names = [(signal.pack, signal.component) for signal in signals]
        lines += self._places(signals[0].pack, [name for _, name in names])
        return TablePage(
            lead=_signal(signals[0]),
            lines=tuple(lines),
            cited=tuple(signal.full_id for signal in signals),
            hazards=self._hazards(names, (Hazard.ELECTRIC_SHOCK, *(h for s in signals for h in s.hazards))),
        )

    def setting(self, setting: Setting) -> TablePage:
        """What it is set to as delivered, in which span, where it is set and what it does."""
        source = setting.full_id
        lines = [Line(text=f"{phrases.SPAN} {setting.span}.", source=source)] if setting.span else []
        lines += _under(phrases.SET_AT, setting.location, source)
        lines += _under(phrases.WHAT, setting.what, source)
        names = [(setting.pack, setting.holder)] if setting.holder else []
        lines += self._places(setting.pack, [setting.holder], heading=phrases.KEPT_IN)
        lines.append(Line(text=phrases.SHEET_FIRST))
        return TablePage(
            lead=Line(text=f"{setting.title}: {setting.delivered}, {phrases.AS_DELIVERED}.", source=source),
            lines=tuple(lines),
            cited=(source,),
            hazards=self._hazards(names, setting.hazards),
        )

    def part(self, part: Part) -> TablePage:
        """What it is and what it fits; a number only where one is written."""
        names = [(part.pack, name) for name in part.fits]
        lines = [Line(text=phrases.NO_PART_NUMBER), *self._places(part.pack, part.fits, heading=phrases.FITS)]
        return TablePage(
            lead=Line(text=f"{part.title}: {format_value(part.spec)}.", source=part.full_id),
            lines=tuple(lines),
            cited=(part.full_id,),
            hazards=self._hazards(names, ()),
        )

    def missing(self, what: str, name: str, near: Sequence[Conductor], *, scoped: bool) -> TablePage:
        """It does not exist, and what is nearest to it."""
        where = phrases.NOT_HERE if scoped else phrases.NOT_ANYWHERE
        lines = [Line(text=phrases.NEAREST_ROWS, role=Role.HEADING)] if near else []
        lines += [_told(row, by_terminal=what == phrases.A_TERMINAL, role=Role.ITEM) for row in near]
        return TablePage(
            lead=Line(text=f"{what} {name} {where}", computed=(name,)),
            lines=tuple(lines),
            cited=tuple(row.id for row in near),
            hazards=(Hazard.ELECTRIC_SHOCK,),
            outcome=Outcome.NOT_COVERED,
        )

    # --- inside

    def _details(self, row: Conductor) -> list[Line]:
        lines = []
        for heading, text in (
            (phrases.CARRIES, row.carries),
            (phrases.COLOUR, row.colour),
            (phrases.SECTION, row.section),
        ):
            if text:
                lines.append(Line(text=f"{heading} {text}.", source=row.id))
        signal = self._rows.signal_of(row)
        return lines if signal is None else [*lines, *_states(signal)]

    def _places(self, pack: str, names: Iterable[str], heading: str = phrases.AT_ITS_ENDS) -> list[Line]:
        known = [
            self._rows.components[pack, name] for name in dict.fromkeys(names) if (pack, name) in self._rows.components
        ]
        if not known:
            return []
        told = known if len(known) <= MOST_PLACES else known[:1]
        lines = [Line(text=heading, role=Role.HEADING)]
        for component in told:
            place = f": {component.location[0]}" if component.location else "."
            lines.append(
                Line(text=f"{component.id} ({component.name}){place}", role=Role.ITEM, source=component.full_id)
            )
        return lines

    def _hazards(self, names: Iterable[tuple[str, str]], more: Iterable[Hazard]) -> tuple[Hazard, ...]:
        found = dict.fromkeys(more)
        for key in names:
            if key in self._rows.components:
                found.update(dict.fromkeys(self._rows.components[key].hazards))
        return tuple(found)


def _told(row: Conductor, *, by_terminal: bool, role: Role = Role.SENTENCE) -> Line:
    if by_terminal:
        text = f"{phrases.A_TERMINAL} {row.terminal}: wire {row.wire}, from {row.origin} to {row.to}."
    else:
        text = f"{phrases.A_WIRE} {row.wire}: from {row.origin} to {row.to}, on {row.terminal}."
    return Line(text=text, role=role, source=row.id)


def _signal(signal: Signal, role: Role = Role.SENTENCE) -> Line:
    text = f"{signal.title}: {signal.component}, terminal {signal.terminal}, wire {signal.wire}."
    return Line(text=text, role=role, source=signal.full_id)


def _states(signal: Signal) -> list[Line]:
    source = signal.full_id
    return [
        *_under(phrases.ON, signal.on_means, source),
        *_under(phrases.OFF, signal.off_means, source),
        *_under(phrases.SEE_AT, signal.see_at, source),
    ]


def _under(heading: str, texts: Sequence[str], source: EntryId) -> list[Line]:
    lines = [Line(text=heading, role=Role.HEADING)] if texts else []
    return [*lines, *(Line(text=text, source=source) for text in texts)]
