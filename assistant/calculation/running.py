"""A calculator and what was given -> its result; every input is checked for unit, dimension and sense before anything runs."""

from __future__ import annotations

import difflib
import re
from collections.abc import Mapping, Sequence

from assistant.calculation.declaration import Calculator, Input
from assistant.calculation.registry import function_of
from assistant.calculation.units import Amount, amount_of, converted, rounded
from assistant.domain.calculation import Given, Origin, Result, Taken
from assistant.errors import CalculationError

UNKNOWN = ("unknown", "?", "don't know")
Checked = float | str | Amount | tuple[float, ...] | tuple[tuple[str, float], ...] | None
_NAMED = re.compile(r"^\s*(.*\S)\s+(\d+(?:\.\d+)?)\s*$")


def calculate(calculator: Calculator, given: Sequence[Given]) -> Result:
    """The result.

    Raises:
        CalculationError: an input is missing, unknown, of the wrong unit or dimension, or outside of what makes sense.

    """
    names = {item.name for item in given}
    unknown = sorted(names - set(calculator.inputs))
    if unknown:
        near = difflib.get_close_matches(unknown[0], calculator.inputs, n=1, cutoff=0.4)
        hint = f"Did you mean `{near[0]}`?" if near else f"It takes {', '.join(calculator.inputs)}."
        raise CalculationError(f"{calculator.title} has no input `{unknown[0]}`.", hint)
    by_name = {item.name: item for item in given}
    lacking = missing(calculator, by_name)
    if lacking:
        asks = " ".join(f"{name}: {calculator.inputs[name].ask}" for name in lacking)
        raise CalculationError(f"{calculator.title} still needs {', '.join(lacking)}.", asks)
    taken: list[Taken] = []
    values: dict[str, Checked] = {}
    for name, wanted in calculator.inputs.items():
        item = by_name.get(name)
        if item is not None and item.text.strip().lower() in UNKNOWN:
            item = None
        values[name], shown = _taken(name, wanted, item)
        taken += [shown] if shown else []
    worked = function_of(calculator)(**values)
    return Result(
        calculator=calculator.name,
        title=calculator.title,
        figures=worked.figures,
        taken=tuple(taken),
        formula=calculator.formula,
        sources=tuple(dict.fromkeys((*worked.sources, *calculator.sources))),
        limit=worked.limit or calculator.limit,
        verdict=worked.verdict,
        why=worked.why,
        next=calculator.next.get(worked.verdict, ()),
        notes=worked.notes,
    )


def missing(calculator: Calculator, given: Mapping[str, Given]) -> tuple[str, ...]:
    """Inputs that are still to be asked for, in order; one said to be unknown counts as given where something stands in."""
    lacking = []
    for name, wanted in calculator.inputs.items():
        item = given.get(name)
        unknown = item is not None and item.text.strip().lower() in UNKNOWN
        if not wanted.optional and (item is None or (unknown and wanted.assume is None)):
            lacking.append(name)
    return tuple(lacking)


def _taken(name: str, wanted: Input, item: Given | None) -> tuple[Checked, Taken | None]:
    if item is None:
        if wanted.assume is None:
            return None, None
        text = wanted.assume.text
        shown = Taken(name=name, meaning=wanted.meaning, text=text, origin=Origin.ASSUMED, place=wanted.assume.why)
        return checked(name, wanted, text)[0], shown
    value, text = checked(name, wanted, item.text)
    shown = Taken(name=name, meaning=wanted.meaning, text=text, origin=item.origin, place=item.place, entry=item.entry)
    return value, shown


def checked(name: str, wanted: Input, text: str) -> tuple[Checked, str]:
    """The value that the function takes, and how it is read back.

    Raises:
        CalculationError: it is of the wrong unit or dimension, or absurd.

    """
    if wanted.choices:
        word = _choice(name, wanted, text)
        return word, word
    if wanted.named:
        pairs = tuple(_named(name, part) for part in re.split(r"[,;]", text) if part.strip())
        return pairs, ", ".join(f"{label} {count:g}" for label, count in pairs)
    if wanted.many:
        parts = [part for part in text.replace(";", ",").split(",") if part.strip()]
        values = tuple(_figure(name, wanted, part) for part in _with_last_unit(parts))
        if not values:
            raise CalculationError(
                f"{name}: there is no figure in `{text}`.", f"Write them with commas between, in {wanted.unit}."
            )
        return values, ", ".join(f"{rounded(value, 6)} {wanted.unit}".strip() for value in values)
    if wanted.free:
        amount = amount_of(text, name)
        return amount, f"{amount.value:.6g} {amount.unit}".strip()
    value = _figure(name, wanted, text)
    written = amount_of(text, name)
    back = f"{rounded(value, 6)} {wanted.unit}".strip()
    same = written.unit.replace(" ", "") in (wanted.unit, "") or f"{rounded(written.value, 6)} {written.unit}" == back
    return value, back if same else f"{written.value:.6g} {written.unit} = {back}"


def _named(name: str, part: str) -> tuple[str, float]:
    match = _NAMED.match(part)
    if match is None:
        raise CalculationError(
            f"{name}: `{part.strip()}` is no name with a count.", "Write such as: film break 12, jam 7."
        )
    return match.group(1), float(match.group(2))


def _with_last_unit(parts: list[str]) -> list[str]:
    """The unit may be given once, behind the last ("462, 463, 455 V")."""
    unit = amount_of(parts[-1], "figures").unit if parts else ""
    return [part if amount_of(part, "figures").unit or not unit else f"{part.strip()} {unit}" for part in parts]


def _choice(name: str, wanted: Input, text: str) -> str:
    plain = " ".join(text.lower().split())
    for word, others in wanted.choices.items():
        if plain == word.lower() or plain in (other.lower() for other in others):
            return word
    raise CalculationError(f"{name}: `{text}` is none of the choices.", f"Choices: {', '.join(wanted.choices)}.")


def _figure(name: str, wanted: Input, text: str) -> float:
    value = converted(amount_of(text, name), wanted.unit, name)
    span = _span(wanted)
    low = wanted.above is not None and value <= wanted.above or wanted.least is not None and value < wanted.least
    if low or (wanted.most is not None and value > wanted.most):
        raise CalculationError(f"{name}: `{text.strip()}` makes no sense as {wanted.meaning}.", f"It takes {span}.")
    if wanted.whole and value != round(value):
        raise CalculationError(f"{name}: `{text.strip()}` is not a whole number.", f"It takes {span}.")
    return value


def _span(wanted: Input) -> str:
    unit = f" {wanted.unit}" if wanted.unit else ""
    kind = "a whole number" if wanted.whole else "a figure"
    low = f"above {wanted.above:g}{unit}" if wanted.above is not None else ""
    low = f"from {wanted.least:g}{unit}" if wanted.least is not None else low
    high = f"up to {wanted.most:g}{unit}" if wanted.most is not None else ""
    return " ".join(part for part in (kind, low, high) if part)
