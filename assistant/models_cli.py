"""`handlamp models`: what is installed, where it can come from, fetching and verifying."""

from __future__ import annotations

import json
from typing import Annotated

import typer

from assistant.errors import AssistantError

models_app = typer.Typer(help="The model files: what is installed, its licence and sha256, where it can come from.")


@models_app.command("list")
def models_list(
    as_json: Annotated[bool, typer.Option("--json", help="Print a JSON object instead of text.")] = False,
) -> None:
    """Every model: installed or not, version, licence, size, sha256, and where it can come from."""
    from assistant.assembly import shelf_of
    from assistant.recognisers import candidates, chosen
    from assistant.settings import load_settings

    shelf = shelf_of(load_settings())
    recogniser = next((c.role for c in candidates(shelf) if not c.why_not), None)
    rows = []
    for model in shelf.models:
        found = shelf.find(model.role)
        rows.append(
            {
                "role": model.role,
                "name": model.name,
                "what": model.what,
                "version": model.version,
                "licence": model.licence,
                "bytes": model.size,
                "sha256": model.sha256,
                "needed": model.needed,
                "installed": found is not None,
                "in_use": model.role == recogniser if model.role.startswith("recogniser") else found is not None,
                "path": str(found.path) if found else None,
                "origin": found.origin if found else None,
                "routes": [*(str(route) for route in model.routes), f"local path (settings: models.{model.role})"],
            }
        )
    if as_json:
        typer.echo(json.dumps(rows, ensure_ascii=False))
        return
    for row in rows:
        state = f"installed ({row['origin']})" if row["installed"] else "not installed"
        typer.echo(f"{row['role']}: {row['name']}, {state}\n  {row['what']}")
        digest = row["sha256"] or "none published: pinned when it first comes"
        typer.echo(f"  version {row['version']}, {row['licence']}, {row['bytes']:,} bytes\n  sha256 {digest}")
        for route in row["routes"]:  # type: ignore[attr-defined]
            typer.echo(f"  from {route}")
    typer.echo(f"speech recognition: {chosen(shelf)}")


@models_app.command("fetch")
def models_fetch(
    roles: Annotated[list[str] | None, typer.Argument(help="Roles; left out: all.")] = None,
) -> None:
    """Fetch model files; the only command that uses the network."""
    from assistant.assembly import shelf_of
    from assistant.settings import load_settings
    from assistant.weights.fetch import fetch

    shelf = shelf_of(load_settings())
    failed: list[AssistantError] = []
    for role in roles or [model.role for model in shelf.models]:
        try:
            fetch(shelf, role, typer.echo)
        except AssistantError as error:
            if shelf.model(role).needed or roles:
                failed.append(error)
            else:
                typer.echo(f"note: {error.message} {error.hint} The rest works without it.", err=True)
    if failed:
        raise failed[0]


@models_app.command("verify")
def models_verify(roles: Annotated[list[str] | None, typer.Argument(help="Roles; left out: all.")] = None) -> None:
    """Hash the installed model files and compare them with the list."""
    from assistant.assembly import shelf_of
    from assistant.settings import load_settings

    shelf = shelf_of(load_settings())
    worst: AssistantError | None = None
    for role in roles or [model.role for model in shelf.models]:
        found = shelf.find(role)
        if found is None:
            typer.echo(f"{role}: not installed")
            continue
        try:
            digest = shelf.verify(found)
            typer.echo(f"{role}: {'your own file, ' if found.own else 'sound, '}sha256 {digest}")
        except AssistantError as error:
            typer.echo(f"{role}: {error.message}")
            worst = error
    if worst is not None:
        raise worst
