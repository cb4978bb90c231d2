"""What authors write: entries of each kind, with their values, hazards and energy states.

These classes are the schema of the YAML files (see knowledge/README.md): a field without a default must be written,
an unknown key is a fault. `pack`, `place`, `figures` and `limits` are filled in by the reader and may not be authored.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import ClassVar

from assistant.domain.terms import STRICT, Energy, EntryId, Hazard, Kind, Value


@dataclass(frozen=True, slots=True, kw_only=True)
class Authored:
    """What every entry has; `figures` are its named values as printed ("chain sag: 10 mm to 15 mm")."""

    __pydantic_config__ = STRICT
    kind: ClassVar[Kind]
    id: str
    title: str
    hazards: tuple[Hazard, ...]
    source: str
    from_memory: bool = False
    phrasings: tuple[str, ...] = ()
    see: tuple[str, ...] = ()
    values: Mapping[str, Value] = field(default_factory=dict)
    pack: str = ""
    place: str = ""
    figures: tuple[str, ...] = ()

    @property
    def full_id(self) -> EntryId:
        """`pack/kind/slug`."""
        return EntryId(f"{self.pack}/{self.kind}/{self.id}")


@dataclass(frozen=True, slots=True, kw_only=True)
class Component(Authored):
    """A designated part of a machine: where it is, what it does, what is dangerous about reaching it.

    `knows` maps a quantity that calculations ask for (current, film_width) to the machine's value that holds it.
    """

    kind: ClassVar[Kind] = Kind.COMPONENT
    name: str
    aliases: tuple[str, ...]
    location: tuple[str, ...]
    function: tuple[str, ...]
    condition: tuple[str, ...] = ()
    danger: tuple[str, ...] = ()
    rating: Value | None = None
    feeds: tuple[str, ...] = ()
    fed_by: tuple[str, ...] = ()
    knows: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class Signal(Authored):
    """An input or output of a controller and what its two states mean."""

    kind: ClassVar[Kind] = Kind.SIGNAL
    component: str
    direction: str
    terminal: str
    wire: str
    on_means: tuple[str, ...]
    off_means: tuple[str, ...]
    see_at: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class CodeCause:
    """One cause of a code and the sign that shows it."""

    __pydantic_config__ = STRICT
    name: str
    sign: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Code(Authored):
    """A code of the machine's display."""

    kind: ClassVar[Kind] = Kind.CODE
    display: tuple[str, ...]
    meaning: tuple[str, ...]
    raised_when: tuple[str, ...]
    clears_when: tuple[str, ...]
    causes: tuple[CodeCause, ...]
    first: tuple[str, ...]
    components: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Cause:
    """A candidate cause of a fault; `weight` is a relative frequency on any scale."""

    __pydantic_config__ = STRICT
    id: str
    name: str
    weight: float
    sign: tuple[str, ...]
    remedy: tuple[str, ...]
    see: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckOutcome:
    """One outcome of a check: `says` are the words a technician may use, the first is its label.

    `likely` maps a cause's id to a likelihood word (always, usually, sometimes, rarely, never) or a number; one outcome of
    each check is `normal` instead and takes what the others leave. Where the check asks for a reading, `within` names the
    authored value whose limits it must lie in, or `below` / `above` the value that it falls short of or exceeds. `codes` are
    the codes whose standing on the panel is this outcome, `none` for a panel without one: seen, they answer the check.
    """

    __pydantic_config__ = STRICT
    says: tuple[str, ...]
    likely: Mapping[str, str | float] = field(default_factory=dict)
    normal: bool = False
    within: str = ""
    below: str = ""
    above: str = ""
    codes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """The reading that a check asks for: its unit, and the span outside of which a reading is questioned."""

    __pydantic_config__ = STRICT
    unit: str
    lowest: float
    highest: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Check:
    """A check that tells causes apart; `minutes` at the machine, `live` when a meter goes on live parts.

    `also` are further energy states in which it may be done; `default` is the likelihood word of causes that an outcome
    does not name; `same_as` names a check (`pack/fault/slug#check`) that is the same act at the same place: all but `id`,
    `outcomes` and `default` is then written there and filled in by the reader, and an answer to one holds for both.
    """

    __pydantic_config__ = STRICT
    id: str
    title: str = ""
    energy: Energy = Energy.UNKNOWN
    minutes: float = 0.0
    do: tuple[str, ...] = ()
    good: tuple[str, ...] = ()
    bad: tuple[str, ...] = ()
    live: bool = False
    also: tuple[Energy, ...] = ()
    tools: tuple[str, ...] = ()
    reading: Asked | None = None
    outcomes: tuple[CheckOutcome, ...] = ()
    default: str | float = "never"
    same_as: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Repair:
    """A repair and the causes that it cures; `cures` maps a cause's id to the chance of curing it (0 to 1).

    What is done is the remedy of those causes. `parts` are ids of part entries; `price` is what its parts cost in minutes of
    work, so that parts are not swapped freely; `destroys` marks a repair after which no check speaks of the old state.
    """

    __pydantic_config__ = STRICT
    id: str
    title: str
    minutes: float
    energy: Energy
    cures: Mapping[str, float]
    parts: tuple[str, ...] = ()
    tools: tuple[str, ...] = ()
    procedure: str = ""
    price: float = 0.0
    destroys: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Proof:
    """The run that shows the complaint gone, under its own conditions; `passes_anyway` is the chance that an uncured machine passes."""

    __pydantic_config__ = STRICT
    minutes: float
    energy: Energy = Energy.RUNNING
    passes_anyway: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class PanelCode:
    """A code that the panel may show under this complaint: how likely that is under each cause.

    `likely` maps a cause's id to a likelihood word or a number, `default` is that of causes not named. The codes of a fault are
    outcomes of one look at the panel: a panel without a code takes what they leave.
    """

    __pydantic_config__ = STRICT
    code: str
    likely: Mapping[str, str | float]
    default: str | float = "never"


@dataclass(frozen=True, slots=True, kw_only=True)
class FaultModel(Authored):
    """A complaint, its candidate causes, the checks that discriminate between them, the repairs and the proof.

    `something_else` is the chance that none of the causes is present; `hand_over` the minutes that handing the job over costs;
    `codes` start this fault, `panel` says which of its causes a code speaks for. `limits`, filled in by the reader, are the
    values that outcomes of its checks are read against.
    """

    kind: ClassVar[Kind] = Kind.FAULT
    symptom: tuple[str, ...]
    meaning: tuple[str, ...]
    causes: tuple[Cause, ...]
    checks: tuple[Check, ...]
    afterwards: tuple[str, ...]
    repairs: tuple[Repair, ...] = ()
    proof: Proof | None = None
    something_else: float = 0.05
    hand_over: float = 180.0
    codes: tuple[str, ...] = ()
    panel: tuple[PanelCode, ...] = ()
    components: tuple[str, ...] = ()
    limits: Mapping[str, Value] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One instruction; `energy` None means the procedure's own.

    `limits`, filled in by the reader, are the authored figures that a reading taken at this step is held against: those of
    `expect`, else those of `do`.
    """

    __pydantic_config__ = STRICT
    do: str
    energy: Energy | None = None
    expect: tuple[str, ...] = ()
    if_not: tuple[str, ...] = ()
    hazards: tuple[Hazard, ...] = ()
    hold: bool = False
    limits: tuple[Value, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Procedure(Authored):
    """Work done step by step; `energy` is the deepest state that any step needs."""

    kind: ClassVar[Kind] = Kind.PROCEDURE
    purpose: tuple[str, ...]
    energy: Energy
    minutes: float
    who: tuple[str, ...]
    tools: tuple[str, ...]
    parts: tuple[str, ...] = ()
    before: tuple[str, ...] = ()
    steps: tuple[Step, ...]
    prove: tuple[Step, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Fact(Authored):
    """A question of the trade or the machine, and its answer."""

    kind: ClassVar[Kind] = Kind.FACT
    answer: tuple[str, ...]
    details: tuple[str, ...]
    components: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Task:
    """One maintenance task with its limit."""

    __pydantic_config__ = STRICT
    do: str
    limit: tuple[str, ...] = ()
    if_not: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Maintenance(Authored):
    """Tasks done at an interval."""

    kind: ClassVar[Kind] = Kind.MAINTENANCE
    interval: Value
    who: tuple[str, ...]
    energy: Energy
    tasks: tuple[Task, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """A spare part and the components it fits."""

    __pydantic_config__ = STRICT
    kind: ClassVar[Kind] = Kind.PART
    id: str
    title: str
    spec: Value
    fits: tuple[str, ...]
    phrasings: tuple[str, ...] = ()
    source: str = "scenario"
    pack: str = ""
    place: str = ""

    @property
    def full_id(self) -> EntryId:
        """`pack/part/slug`."""
        return EntryId(f"{self.pack}/{self.kind}/{self.id}")


@dataclass(frozen=True, slots=True, kw_only=True)
class Refusal(Authored):
    """A wish that is refused, why, and the safe way to the same end; `patterns` are groups of lemmas."""

    kind: ClassVar[Kind] = Kind.REFUSAL
    reason: tuple[str, ...]
    safe_way: tuple[str, ...]
    benign: tuple[str, ...]
    patterns: tuple[Mapping[str, tuple[str, ...]], ...]


Entry = Component | Signal | Code | FaultModel | Procedure | Fact | Maintenance | Part | Refusal
