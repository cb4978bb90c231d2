"""`handlamp list`: the tables of a machine as columns, or as JSON."""

from __future__ import annotations

import json
from typing import Annotated

import typer

from assistant.errors import UnknownName
from assistant.retrieval.listing import HEADINGS, Listed, ListRow, listed

WIDTH = 80
"""Columns of a list, on any terminal: it is read at arm's length and pasted into notes."""


def list_tables(
    what: Annotated[Listed, typer.Argument(help="What to list.", show_choices=True)],
    words: Annotated[list[str] | None, typer.Argument(help="Words that a row must hold, such as BG5 or brake.")] = None,
    machine: Annotated[
        str | None, typer.Option("--machine", "-m", help="The machine; left out: the one of the settings, or all.")
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print a JSON list instead of columns.")] = False,
) -> None:
    """The wires, terminals, inputs and outputs (io), parts, settings, components or codes of a machine."""
    from assistant.assembly import known_knowledge
    from assistant.settings import load_settings

    settings = load_settings()
    knowledge = known_knowledge(settings)
    scope = machine or settings.machine
    names = {m.pack: m.name for m in knowledge.machines}
    if scope is not None and scope not in names:
        raise UnknownName(f"There is no machine `{scope}`.", f"Machines: {', '.join(names)}.")
    rows = listed(knowledge, what, scope, words or ())
    if as_json:
        typer.echo(json.dumps([_as_object(what, row) for row in rows], ensure_ascii=False))
        return
    if not rows:
        typer.echo(f"No row of the {what} holds {' '.join(words) if words else 'anything'}.")
        return
    typer.echo("\n".join(_printed(what, rows, names)))


def _as_object(what: Listed, row: ListRow) -> dict[str, str]:
    keys = (heading.replace(" ", "_") for heading in HEADINGS[what])
    return {"machine": row.pack, **dict(zip(keys, row.cells, strict=True))}


def _printed(what: Listed, rows: tuple[ListRow, ...], names: dict[str, str]) -> list[str]:
    """A table for each machine, under its name; a column that is empty throughout is left out."""
    from assistant.rendering.columns import table_lines

    lines: list[str] = []
    for pack in dict.fromkeys(row.pack for row in rows):
        own = [row.cells for row in rows if row.pack == pack]
        used = [i for i in range(len(HEADINGS[what])) if any(cells[i] for cells in own)]
        headings = [HEADINGS[what][i] for i in used]
        lines += ["", names.get(pack, pack), ""] if lines else [names.get(pack, pack), ""]
        lines += table_lines(headings, [[cells[i] for i in used] for cells in own], WIDTH)
    return lines
