"""A machine's own isolation items -> the faults an author can mend: a proof without its point, a tester proved only once."""

from __future__ import annotations

from collections.abc import Collection, Iterator

from assistant.corpus.draftbook import Draftbook
from assistant.corpus.figures import find_value, references
from assistant.domain.safety import IsolationItem, ItemKind
from assistant.errors import Fault

FIRST = "off"
"""The item that every isolation begins with."""
AROUND = ("tester-before", "tester-after")
"""The items that stand around every proof: a tester that died between them showed nothing."""
MOST_WORDS = 8
"""It is said after every confirmation, to somebody with a tester in hand."""
Where = tuple[str | int, ...]
Named = Collection[tuple[str, str]]


def lint_isolation(book: Draftbook, designations: Named, terminals: Named) -> list[Fault]:
    """The faults of every machine.yaml that brings items of its own."""
    faults: list[Fault] = []
    known = {*designations, *terminals}
    for pack, machine in sorted(book.machines.items()):
        file = f"machines/{pack}/machine.yaml"
        found = [*_order(machine.isolation)] if machine.isolation else []
        for i, item in enumerate(machine.isolation):
            where = ("isolation", i)
            found += [(where, *told) for told in _item(book, pack, item, known)]
        document = book.documents[file]
        faults += [Fault(file=file, line=document.line(w), message=f"[{pack}] {m}", hint=h) for w, m, h in found]
    return faults


def _item(book: Draftbook, pack: str, item: IsolationItem, known: Named) -> Iterator[tuple[str, str]]:
    tables = book.tables(pack, {})
    for name in (*references(item.ask), *references(item.done)):
        if find_value(name, tables) is None:
            yield f"`{{{name}}}` in item `{item.id}` names no value", "write it in `values:` of the machine"
    if item.kind is ItemKind.WAIT and not references(item.ask):
        yield f"the wait `{item.id}` says no time", "refer to it, as in {link_wait}"
    if item.kind is ItemKind.PROVE and (pack, item.point) not in known:
        yield f"the proof `{item.id}` names no point of the machine", "point: a designation or a terminal, as in XD1"
    if not item.ask.endswith("?"):
        yield f"item `{item.id}` is no question", "end it with a question mark"
    if not item.done or len(item.done.split()) > MOST_WORDS or not item.done[-1].isalnum():
        yield f"what stands after item `{item.id}` is not said shortly", f"at most {MOST_WORDS} words and no full stop"


def _order(items: tuple[IsolationItem, ...]) -> Iterator[tuple[Where, str, str]]:
    ids = [item.id for item in items]
    where: Where = ("isolation",)
    if len(set(ids)) < len(ids) or len({item.ask for item in items}) < len(items):
        yield where, "two isolation items are the same", "give each its own id and question"
    if ids[0] != FIRST:
        yield where, f"isolation begins with `{ids[0]}`", f"begin with the item `{FIRST}`"
    proofs = [i for i, item in enumerate(items) if item.kind is ItemKind.PROVE]
    if not proofs:
        yield where, "isolation proves nothing dead", "add an item of kind: prove for each point"
        return
    if any(name not in ids for name in AROUND) or not ids.index(AROUND[0]) < proofs[0] <= proofs[-1] < ids.index(
        AROUND[1]
    ):
        yield (
            where,
            "the tester is not proved before and after the proofs",
            f"put {AROUND[0]} and {AROUND[1]} around them",
        )
