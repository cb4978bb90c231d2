"""Text such as "0.55 kW" -> a figure in the unit that a calculation wants, checked by pint; the one module that loads it."""

from __future__ import annotations

import difflib
import math
import re
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

from assistant.errors import CalculationError

if TYPE_CHECKING:
    from pint import UnitRegistry

DEFINITIONS = Path(__file__).with_name("units.txt")
_FIGURE = re.compile(
    r"^\s*([+-]?(?:\d+(?:\.\d+)?|\.\d+)(?:[eE][+-]?\d+)?|nan|[+-]?inf(?:inity)?)\s*(.*?)\s*$", re.IGNORECASE
)
_FRACTION = re.compile(r"^\s*(?:(\d+)[ -])?(\d+)/(\d+)\s*(.*?)\s*$")
_COMMA = re.compile(r"^\s*[+-]?\d+,\d")
_POWER = re.compile(r"(?<=[a-zµ])([23])(?![\d])")
_WRITTEN = {
    "": "", "%": "percent", "percent": "percent", "per cent": "percent", "°c": "degC", "c": "degC", "celsius": "degC",
    "°f": "degF", "fahrenheit": "degF", "r/min": "rpm", "rev/min": "rpm", "1/min": "rpm", "min-1": "rpm", "revs": "rpm",
    "ω": "ohm", "ohms": "ohm", "kω": "kiloohm", "kohm": "kiloohm", "kilohm": "kiloohm", "megohm": "megaohm",
    "megohms": "megaohm", "meg": "megaohm", "gohm": "1000 megaohm", "gω": "1000 megaohm", "micron": "micrometer",
    "microns": "micrometer", "nm": "newton*meter", "n·m": "newton*meter", "n.m": "newton*meter", "n*m": "newton*meter",
    "°": "degree", "kw": "kilowatt", "w": "watt", "kv": "kilovolt", "v": "volt", "va": "voltampere", "a": "ampere",
    "hz": "hertz", "khz": "kilohertz", "kn": "kilonewton", "n": "newton", "kg": "kilogram", "times": "", "turns": "",
    "gauge": "gauge", "mils": "mil", "ga": "gauge", "l": "litre", "l/min": "litre/minute", "lb·ft": "pound_force*foot",
    "lb·in": "pound_force*inch", "lbf·in": "pound_force*inch", "lbf·ft": "pound_force*foot", "lb.ft": "pound_force*foot",
    "lb.in": "pound_force*inch", "hours": "hour", "days": "day", "minutes": "minute", "seconds": "second",
    "inches": "inch", '"': "inch", "volts": "volt", "amps": "ampere", "metres": "meter", "meters": "meter",
    "teeth": "", "poles": "", "cycles": "", "layers": "", "pitches": "", "rolls": "", "loads": "", "cuts": "",
    "v ac": "volt", "v dc": "volt", "vac": "volt", "vdc": "volt", "awg": "", "µc": "microcoulomb",
    "ω/km": "ohm/kilometer", "ohm/km": "ohm/kilometer", "g": "gram", "eur/kg": "euro/kilogram", "€": "euro", "€/kg": "euro/kilogram",
}  # fmt: skip
"""Lower-cased ways to write a unit that pint would not read, or would read as something else ("nm" is a nanometre to it)."""
_AS_WRITTEN = {"mΩ": "milliohm", "MΩ": "megaohm", "MOhm": "megaohm", "mohm": "milliohm", "mOhm": "milliohm", "Mohm": "megaohm",
               "mm": "millimeter", "MPa": "megapascal", "mA": "milliampere", "mW": "milliwatt", "MW": "megawatt", "mV": "millivolt",
               "g0": "g_0", "Nm": "newton*meter", "nm": "nanometer", "C": "coulomb", "dm3/(s·bar)": "decimeter**3/second/bar"}  # fmt: skip
"""Where capital and small letter tell two units apart, exactly as written comes first."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Amount:
    """A figure and its unit as they were written."""

    value: float
    unit: str
    text: str


@cache
def registry() -> UnitRegistry[float]:
    """The units of the trade; loading pint takes its time, so this is called only when a calculation runs."""
    from pint import UnitRegistry

    units: UnitRegistry[float] = UnitRegistry(str(DEFINITIONS), autoconvert_offset_to_baseunit=True)
    return units


def amount_of(text: str, what: str) -> Amount:
    """The figure and the unit of a text.

    Raises:
        CalculationError: there is no figure, or it may be read in two ways ("1,500"), or it is no number.

    """
    fraction = _FRACTION.match(text)
    if fraction and int(fraction.group(3)):
        value = int(fraction.group(1) or 0) + int(fraction.group(2)) / int(fraction.group(3))
        return Amount(value=value, unit=fraction.group(4), text=text.strip())
    if _COMMA.match(text):
        raise CalculationError(
            f"{what}: `{text}` has a comma, which may part thousands or decimals.",
            f"Write it with a point or without a mark, such as {text.replace(',', '.', 1)} or {text.replace(',', '', 1)}.",
        )
    match = _FIGURE.match(text)
    if match is None:
        raise CalculationError(f"{what}: `{text}` is not a figure.", "Write a figure and its unit, such as 24 V.")
    value = float(match.group(1))
    if not math.isfinite(value):
        raise CalculationError(
            f"{what}: `{text}` is not a number.", "Read the instrument again and give a finite figure."
        )
    return Amount(value=value, unit=match.group(2), text=text.strip())


@cache
def pint_name(unit: str) -> str:
    """The unit in pint's words."""
    plain = unit.strip()
    if plain in _AS_WRITTEN:
        return _AS_WRITTEN[plain]
    if plain.lower() in _WRITTEN:
        return _WRITTEN[plain.lower()]
    return _POWER.sub(r"**\1", plain.replace("·", "*").replace("²", "2").replace("³", "3").replace("Ω", "ohm"))


@cache
def _factor(unit: str, wanted: str) -> tuple[float, float] | None:
    """Slope and offset from one unit to another; None where they do not measure the same thing."""
    units = registry()
    try:
        at_zero, at_one = (
            float(units.Quantity(x, pint_name(unit)).to(pint_name(wanted)).magnitude) for x in (0.0, 1.0)
        )
    except Exception as error:
        if type(error).__name__ == "DimensionalityError":
            return None
        raise CalculationError(f"`{unit}` is not a unit known here.", near_units(unit, wanted)) from error
    return at_one - at_zero, at_zero


def converted(amount: Amount, wanted: str, what: str) -> float:
    """The figure in the wanted unit.

    Raises:
        CalculationError: the unit is missing, unknown, or measures something else.

    """
    if not amount.unit and pint_name(wanted):
        raise CalculationError(
            f"{what}: `{amount.text}` has no unit.", f"Say it with its unit, such as {amount.text} {wanted}."
        )
    if amount.unit and not pint_name(wanted) and pint_name(amount.unit):
        raise CalculationError(
            f"{what}: `{amount.text}` has a unit, but this is a bare number.", f"Write {amount.value:g}."
        )
    factor = _factor(amount.unit, wanted) if amount.unit or wanted else (1.0, 0.0)
    if factor is None:
        raise CalculationError(
            f"{what}: `{amount.text}` does not fit; {amount.unit} does not measure this.",
            f"It wants a unit such as {wanted}.",
        )
    return float(f"{amount.value * factor[0] + factor[1]:.12g}")


def near_units(unit: str, wanted: str) -> str:
    """What may have been meant."""
    known = [*_AS_WRITTEN, *_WRITTEN]
    near = [name for name in difflib.get_close_matches(unit, known, n=2, cutoff=0.6) if name]
    return f"It wants a unit such as {wanted}." + (f" Near it: {', '.join(near)}." if near else "")


def rounded(value: float, digits: int = 3) -> str:
    """The value with that many significant digits, without an exponent, at least whole to three digits ("27", "0.302", "1180")."""
    if value == 0 or not math.isfinite(value):
        return "0" if value == 0 else str(value)
    places = max(0, digits - 1 - math.floor(math.log10(abs(value))))
    text = f"{value:.{places}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text
