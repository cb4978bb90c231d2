"""What keeps people whole: safety messages, the words that raise a hazard, and the rules of energy states."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum

from assistant.domain.terms import STRICT, Energy, Hazard, SignalWord, Value


@dataclass(frozen=True, slots=True, kw_only=True)
class SafetyMessage:
    """A verbatim safety message; `severity` 1 is the most severe and unique over all messages."""

    __pydantic_config__ = STRICT
    id: str
    hazard: Hazard
    signal_word: SignalWord
    severity: int
    text: tuple[str, ...]
    source: str
    from_memory: bool = False
    applies: str | tuple[str, ...] = "general"
    place: str = ""

    @property
    def general(self) -> bool:
        """Whether it holds for any machine (it is then the hazard's default message)."""
        return self.applies == "general"


@dataclass(frozen=True, slots=True, kw_only=True)
class HazardWords:
    """The words by which people reveal that they are about to meet a hazard."""

    __pydantic_config__ = STRICT
    id: Hazard
    title: str
    words: tuple[str, ...]
    place: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class EnergyState:
    """What an energy state means, who may work in it, at what distance, and what holds when the work is left in it."""

    __pydantic_config__ = STRICT
    id: Energy
    title: str
    meaning: tuple[str, ...]
    who: tuple[str, ...]
    distance: tuple[str, ...]
    leaving: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class LiveWork:
    """Who may measure on live parts and how."""

    __pydantic_config__ = STRICT
    who: tuple[str, ...]
    distance: tuple[str, ...]


_WAIT = re.compile(r"(\d+(?:\.\d+)?) (s|min|h)\b")
_SECONDS = {"s": 1.0, "min": 60.0, "h": 3600.0}


class ItemKind(StrEnum):
    """What an isolation item is: said to be so, a time waited, a point shown dead."""

    CONFIRM = "confirm"
    WAIT = "wait"
    PROVE = "prove"


@dataclass(frozen=True, slots=True, kw_only=True)
class IsolationItem:
    """One item that is confirmed before isolation counts as declared; `point` is what a proof shows dead.

    `done` says in a few words what stands once it is confirmed ("XD1 dead").
    """

    __pydantic_config__ = STRICT
    id: str
    ask: str
    done: str
    kind: ItemKind = ItemKind.CONFIRM
    point: str = ""

    @property
    def wait_s(self) -> float:
        """Seconds that the question asks to have waited, as the author's value prints them; 0 for an item without a wait."""
        found = _WAIT.search(self.ask) if self.kind is ItemKind.WAIT else None
        return float(found[1]) * _SECONDS[found[2]] if found else 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class EnergyRules:
    """The authored rules of energy states."""

    __pydantic_config__ = STRICT
    states: tuple[EnergyState, ...]
    live: LiveWork
    isolation_items: tuple[IsolationItem, ...]
    source: str
    unknown: tuple[str, ...] = ()
    values: Mapping[str, Value] = field(default_factory=dict)
    of_machine: Mapping[str, tuple[IsolationItem, ...]] = field(default_factory=dict)

    def items(self, pack: str | None) -> tuple[IsolationItem, ...]:
        """The isolation items of a machine in their order; the common ones when it brings none or is not known."""
        return self.of_machine.get(pack or "", ()) or self.isolation_items

    def state(self, energy: Energy) -> EnergyState:
        """The authored state of that name.

        Raises:
            KeyError: it is not authored.

        """
        for state in self.states:
            if state.id == energy:
                return state
        raise KeyError(energy)
