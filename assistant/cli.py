"""The command line: every command, one catch of the program's own errors."""

from __future__ import annotations

from pathlib import Path

import typer

app = typer.Typer(no_args_is_help=False)


@app.callback()
def main() -> None:
    """handlamp."""


@app.command()
def check(knowledge: Path = Path("knowledge")) -> None:
    """Read and lint the knowledge."""
    from assistant.corpus.reader import read_knowledge

    kb = read_knowledge(knowledge)
    typer.echo(f"{len(kb.entries())} entries, no faults")


if __name__ == "__main__":
    app()
