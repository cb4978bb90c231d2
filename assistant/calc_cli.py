"""`handlamp calc`: the list of calculators, what one takes, and its result."""

from __future__ import annotations

import json
import re
from typing import TYPE_CHECKING, Annotated

import typer

from assistant.errors import CalculationError

if TYPE_CHECKING:
    from assistant.calculation.declaration import Calculator, Input
    from assistant.calculation.knowing import Known
    from assistant.domain.calculation import Given
    from assistant.domain.knowledge import KnowledgeBase

COMPONENT_KEYS = ("motor", "component", "of")
"""Keys that name a component of the machine, where the calculator has no input of that name that takes it."""
_PAIR = re.compile(r"(?:^|\s)([A-Za-z][\w-]*)\s*=\s*")


def calc(
    name: Annotated[str | None, typer.Argument(help="The calculator; left out: the list.")] = None,
    pairs: Annotated[list[str] | None, typer.Argument(help='Inputs with units: "power=0.55kW voltage=230V".')] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print a JSON object instead of text.")] = False,
    machine: Annotated[
        str | None, typer.Option("--machine", "-m", help="The machine whose knowledge fills in what is not given.")
    ] = None,
) -> None:
    """The trade's arithmetic: result, rule, source, limit, verdict and what to do next."""
    from assistant.calculation.registry import calculator_named

    if name is None:
        _list(as_json)
        return
    calculator = calculator_named(name)
    given = pairs_of(" ".join(pairs or ()))
    if not given:
        _describe(calculator, as_json)
        return
    _run(calculator, given, machine, as_json)


def pairs_of(text: str) -> dict[str, str]:
    """Key and value of each pair ("power=0.55 kW voltage=230V"); a value runs to the next key.

    Raises:
        CalculationError: something stands before the first key, or a key comes twice.

    """
    parts = _PAIR.split(text.strip())
    if parts[0].strip():
        raise CalculationError(f"`{parts[0].strip()}` is no input.", "Write key=value, such as voltage=230V.")
    found: dict[str, str] = {}
    for key, value in zip(parts[1::2], parts[2::2], strict=True):
        plain = key.lower().replace("-", "_")
        if plain in found:
            raise CalculationError(f"`{key}` is given twice.", "Give each input once.")
        found[plain] = value.strip().strip("'\"")
    return found


def _run(calculator: Calculator, given: dict[str, str], machine: str | None, as_json: bool) -> None:
    from assistant.assembly import known_knowledge
    from assistant.calculation.knowing import Known
    from assistant.calculation.running import calculate
    from assistant.domain.turn import State
    from assistant.domain.utterance import Utterance
    from assistant.rendering.contract import as_object
    from assistant.rendering.screen import screen_style
    from assistant.rendering.terminal import render
    from assistant.rules.verdict import Case, Rules
    from assistant.settings import load_settings

    settings = load_settings()
    knowledge = known_knowledge(settings)
    scope = machine or settings.machine
    _check_scope(knowledge, scope)
    result = calculate(calculator, inputs(calculator, given, Known(knowledge), scope))
    text = f"calc {calculator.name} " + " ".join(f"{key}={value}" for key, value in given.items())
    case = Case(utterance=Utterance(text=text), state=State(), scope=scope)
    answer = Rules(knowledge).calculated(case, result, calculator.hazards)
    typer.echo(json.dumps(as_object(answer), ensure_ascii=False) if as_json else render(answer, screen_style()))


def inputs(calculator: Calculator, given: dict[str, str], known: Known, scope: str | None) -> tuple[Given, ...]:
    """What was given, then what the component or the machine knows of the rest.

    Raises:
        UnknownName: the component does not exist.

    """
    from assistant.domain.calculation import Given

    named = next((key for key in COMPONENT_KEYS if key in given and not _takes(calculator, key, given[key])), None)
    component = known.component_named(given[named], scope) if named else None
    own = [Given(name=key, text=value) for key, value in given.items() if key != named]
    names = {item.name for item in own}
    return (*own, *(item for item in known.given(calculator, component, scope) if item.name not in names))


def _takes(calculator: Calculator, key: str, text: str) -> bool:
    wanted = calculator.inputs.get(key)
    return wanted is not None and not re.fullmatch(r"[A-Za-z]{2}\d{1,2}", text)


def _check_scope(knowledge: KnowledgeBase, scope: str | None) -> None:
    from assistant.errors import UnknownName

    packs = [machine.pack for machine in knowledge.machines]
    if scope is not None and scope not in packs:
        raise UnknownName(f"There is no machine `{scope}`.", f"Machines: {', '.join(packs)}.")


def _list(as_json: bool) -> None:
    from assistant.calculation.registry import calculators

    found = calculators()
    if as_json:
        typer.echo(json.dumps([_as_row(c) for c in found.values()], ensure_ascii=False))
        return
    trade = ""
    for calculator in found.values():
        if calculator.trade != trade:
            trade = calculator.trade
            typer.echo(f"{trade}:")
        typer.echo(f"  {calculator.name:<24} {calculator.title}")
    typer.echo("`handlamp calc NAME` says what one takes; `handlamp calc NAME key=value ...` runs it.")


def _describe(calculator: Calculator, as_json: bool) -> None:
    if as_json:
        typer.echo(json.dumps(_as_row(calculator), ensure_ascii=False))
        return
    typer.echo(f"{calculator.title}\n\nTakes:")
    for name, wanted in calculator.inputs.items():
        typer.echo(f"  {name:<20} {wanted.meaning}{_kind(wanted)}")
    typer.echo(f"\nFormula: {calculator.formula}")
    if calculator.limit:
        typer.echo(f"Limit: {calculator.limit}")
    for source in calculator.sources:
        typer.echo(f"Source: {source.text} ({source.standing})")
    typer.echo(f"\nhandlamp calc {calculator.name} {calculator.example}")


def _kind(wanted: Input) -> str:
    kind = f", one of {', '.join(wanted.choices)}" if wanted.choices else f", in {wanted.unit}" if wanted.unit else ""
    many = ", several with commas" if wanted.many else ""
    rest = f"; left out: {wanted.assume.text} ({wanted.assume.why})" if wanted.optional and wanted.assume else ""
    may = "; may be left out" if wanted.optional and not wanted.assume else ""
    unsure = (
        f'; "unknown" takes {wanted.assume.text} ({wanted.assume.why})' if wanted.assume and not wanted.optional else ""
    )
    return f"{kind}{many}{rest}{may}{unsure}"


def _as_row(calculator: Calculator) -> dict[str, object]:
    return {
        "name": calculator.name,
        "trade": calculator.trade,
        "title": calculator.title,
        "inputs": {
            name: {"meaning": i.meaning, "unit": i.unit, "choices": list(i.choices), "optional": i.optional}
            for name, i in calculator.inputs.items()
        },
        "formula": calculator.formula,
        "sources": [{"text": s.text, "standing": str(s.standing)} for s in calculator.sources],
        "example": calculator.example,
    }
