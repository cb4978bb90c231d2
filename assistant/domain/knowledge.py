"""The knowledge base: everything authored, references resolved."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from assistant.domain.entries import (
    Code,
    Component,
    Entry,
    Fact,
    FaultModel,
    Maintenance,
    Part,
    Procedure,
    Refusal,
    Signal,
)
from assistant.domain.safety import EnergyRules, HazardWords, IsolationItem, SafetyMessage
from assistant.domain.tables import Setting
from assistant.domain.terms import STRICT, Value


@dataclass(frozen=True, slots=True, kw_only=True)
class Machine:
    """A machine pack: its names, the words that point at it, its code subsystems and shared values.

    `controller` is the component that its inputs and outputs belong to.
    """

    __pydantic_config__ = STRICT
    name: str
    aliases: tuple[str, ...]
    what: tuple[str, ...]
    words: tuple[str, ...]
    subsystems: Mapping[str, str]
    values: Mapping[str, Value] = field(default_factory=dict)
    controller: str = ""
    isolation: tuple[IsolationItem, ...] = ()
    pack: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Wire:
    """Where a wire goes and what it carries; colour and cross-section where they are known."""

    __pydantic_config__ = STRICT
    wire: str
    terminal: str
    origin: str
    to: str
    carries: str
    colour: str = ""
    section: str = ""
    pack: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Lexicon:
    """Groups of words and pairs of words that mean the same thing in the trade; the first of a group names it."""

    __pydantic_config__ = STRICT
    groups: tuple[tuple[str, ...], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class KnowledgeBase:
    """Everything authored, references resolved, ordered by id; `digest` is the sha256 of the files."""

    digest: str
    machines: tuple[Machine, ...]
    components: tuple[Component, ...] = ()
    signals: tuple[Signal, ...] = ()
    codes: tuple[Code, ...] = ()
    faults: tuple[FaultModel, ...] = ()
    procedures: tuple[Procedure, ...] = ()
    facts: tuple[Fact, ...] = ()
    maintenance: tuple[Maintenance, ...] = ()
    parts: tuple[Part, ...] = ()
    refusals: tuple[Refusal, ...] = ()
    messages: tuple[SafetyMessage, ...] = ()
    hazard_words: tuple[HazardWords, ...] = ()
    energy: EnergyRules
    wires: tuple[Wire, ...] = ()
    settings: tuple[Setting, ...] = ()
    lexicon: Lexicon = Lexicon(groups=())

    @property
    def designations(self) -> frozenset[str]:
        """What stands on components and signals of any machine."""
        return frozenset(item.id for item in (*self.components, *self.signals))

    def entries(self) -> tuple[Entry, ...]:
        """All entries of all kinds, ordered by full id."""
        groups: tuple[tuple[Entry, ...], ...] = (
            self.components,
            self.signals,
            self.codes,
            self.faults,
            self.procedures,
            self.facts,
            self.maintenance,
            self.parts,
            self.refusals,
        )
        return tuple(sorted((e for group in groups for e in group), key=lambda e: e.full_id))
