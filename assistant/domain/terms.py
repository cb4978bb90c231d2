"""The closed lists and the authored figure: what every other noun is made of."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import NewType

EntryId = NewType("EntryId", str)
"""`pack/kind/slug`, the one name of an entry everywhere."""


class Kind(StrEnum):
    """The kinds of entry; the value is the middle part of an id."""

    COMPONENT = "component"
    SIGNAL = "signal"
    CODE = "code"
    FAULT = "fault"
    PROCEDURE = "procedure"
    MAINTENANCE = "maintenance"
    FACT = "fact"
    PART = "part"
    REFUSAL = "refusal"
    SETTING = "setting"


class Hazard(StrEnum):
    """The closed list of hazards that safety messages are chosen by."""

    ELECTRIC_SHOCK = "electric-shock"
    STORED_ENERGY = "stored-energy"
    ENTANGLEMENT = "entanglement"
    CRUSHING = "crushing"
    FALLING_LOAD = "falling-load"
    CUTTING = "cutting"
    HOT_SURFACE = "hot-surface"
    PNEUMATIC = "pneumatic"
    ARC_FLASH = "arc-flash"


class Energy(StrEnum):
    """What the technician has declared of the machine, or what a step needs."""

    UNKNOWN = "unknown"
    RUNNING = "running"
    STOPPED = "stopped"
    ISOLATED = "isolated"


class SignalWord(StrEnum):
    """Signal words of ANSI Z535.6, most severe first."""

    DANGER = "DANGER"
    WARNING = "WARNING"
    CAUTION = "CAUTION"


STRICT = {"extra": "forbid"}
"""Read by the schema check: a key that is not a field is a fault."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Value:
    """A figure or type written once: number, range or text, with its unit and tolerance."""

    __pydantic_config__ = STRICT
    value: float | int | None = None
    min: float | int | None = None
    max: float | int | None = None
    text: str = ""
    unit: str = ""
    tolerance: float | int | str | None = None
    about: bool = False
    source: str = ""
    from_memory: bool = False
