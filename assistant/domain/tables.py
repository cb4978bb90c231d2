"""The tables of a machine: what is set where, and one row for each wire, whichever file it is written in."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from assistant.domain.entries import Authored
from assistant.domain.terms import EntryId, Kind


@dataclass(frozen=True, slots=True, kw_only=True)
class Setting(Authored):
    """One setting of a panel, a drive or a dial, with its value as delivered and the span in which it may be set.

    `holder` is the component that keeps it, empty for a crank or a nut. `delivered` and `span`
    are written with references to values. A setting is no entry of the search: it is looked up by its names.
    """

    kind: ClassVar[Kind] = Kind.SETTING
    aliases: tuple[str, ...]
    holder: str = ""
    location: tuple[str, ...]
    delivered: str
    span: str = ""
    what: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Conductor:
    """One wire: its number, terminal, both ends, what it carries, and the components that its ends name.

    `signal` is the input or output that it belongs to. `colour` and `section` are empty where the author wrote none.
    """

    id: EntryId
    pack: str
    wire: str
    terminal: str
    origin: str
    to: str
    carries: str
    names: tuple[str, ...]
    colour: str = ""
    section: str = ""
    signal: EntryId | None = None
