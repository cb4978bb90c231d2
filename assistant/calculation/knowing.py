"""The machine's knowledge -> figures for a calculator's inputs: a component's own values first, then the machine's."""

from __future__ import annotations

from collections.abc import Iterator

from assistant.calculation.declaration import Calculator
from assistant.domain.calculation import Given, Origin
from assistant.domain.entries import Component
from assistant.domain.knowledge import KnowledgeBase, Machine
from assistant.domain.terms import EntryId, Value
from assistant.errors import UnknownName
from assistant.recognition.spoken_forms import designations_in


class Known:
    """What the packs know of components and machines, as inputs of calculators."""

    def __init__(self, knowledge: KnowledgeBase) -> None:
        """Keep components and machines by name."""
        self._components = knowledge.components
        self._machines = {machine.pack: machine for machine in knowledge.machines}

    def component_named(self, name: str, scope: str | None) -> Component:
        """The component of a designation, in the machine in scope.

        Raises:
            UnknownName: there is none, or several machines have one and none is in scope.

        """
        found = [c for c in self._components if designations_in(name, {c.id}) and scope in (None, c.pack)]
        if not found:
            where = f" on {self._machines[scope].name}" if scope in self._machines and scope else ""
            raise UnknownName(f"There is no component `{name}`{where}.", "`handlamp show NAME` shows those near it.")
        packs = sorted({c.pack for c in found})
        if len(packs) > 1:
            raise UnknownName(f"`{name}` is on {' and '.join(packs)}.", "Say which machine: --machine NAME.")
        return found[0]

    def by_id(self, entry: EntryId | None) -> Component | None:
        """The component of an id."""
        return next((c for c in self._components if c.full_id == entry), None)

    def given(self, calculator: Calculator, component: Component | None, scope: str | None) -> tuple[Given, ...]:
        """Every input that the component, or the machine in scope, has one figure or word for."""
        pack = component.pack if component is not None else scope
        machine = self._machines.get(pack) if pack is not None else None
        found = []
        for name, wanted in calculator.inputs.items():
            taken = next(self._values(wanted.known, component, machine), None)
            if taken is not None:
                text, place, entry = taken
                found.append(Given(name=name, text=text, origin=Origin.MACHINE, place=place, entry=entry))
        return tuple(found)

    @staticmethod
    def _values(
        names: tuple[str, ...], component: Component | None, machine: Machine | None
    ) -> Iterator[tuple[str, str, EntryId | None]]:
        """Text, where it stands, and the entry it stands in; names that hold no one figure are passed over."""
        shared = machine.values if machine is not None else {}
        for whole in names:
            name, _, bound = whole.partition(".")
            if component is not None:
                own = component.values.get(name) or shared.get(component.knows.get(name, ""))
                if own is not None and as_text(own, bound):
                    yield as_text(own, bound), component.id, component.full_id
            if machine is not None and name in shared and as_text(shared[name], bound):
                yield as_text(shared[name], bound), machine.name, None


def as_text(value: Value, bound: str = "") -> str:
    """One figure with its unit, or the words of a value that is none; a range is no figure, but its `min` or `max` is."""
    if bound:
        limit = value.min if bound == "min" else value.max
        return "" if limit is None else f"{limit} {value.unit}".strip()
    if value.value is not None:
        unit = value.unit.removesuffix(" AC").removesuffix(" DC")
        return f"{value.value} {unit}".strip()
    return value.text if value.min is None and value.max is None else ""
