"""`show --plan` and `show --picture`: where a component sits, on the screen or in a file."""

from __future__ import annotations

import json
import os
import shutil
import sys
from pathlib import Path

import typer

from assistant.corpus.drawing import read_drawing
from assistant.domain.answer import Answer
from assistant.errors import AssistantError, UnknownName
from assistant.rendering.plan import svg_plan, text_plan
from assistant.settings import Settings


def place(settings: Settings, answer: Answer, out: Path | None, *, as_text: bool, as_json: bool = False) -> None:
    """Print the plan, or write the picture, print its path and open it where a viewer exists.

    Raises:
        AssistantError: no such component, no drawing, or a file that cannot be written.

    """
    pack, _, name = (answer.sources[0] if answer.sources else "").replace("/component/", "\n").partition("\n")
    if not name:
        raise UnknownName("No single component is meant.", "Name one designation, and the machine with --machine.")
    drawing = read_drawing(settings.knowledge, pack)
    placed = drawing.find(name) if drawing else None
    if drawing is None or placed is None:
        raise UnknownName(f"There is no drawing of `{pack}`.", f"`handlamp show {name}` tells the place in words.")
    told: dict[str, object] = {"designation": placed.designation, "machine": pack, "view": placed.view}
    if as_text:
        plan = text_plan(drawing, placed)
        typer.echo(json.dumps(told | {"plan": plan.splitlines()}, ensure_ascii=False) if as_json else plan)
        return
    path = out or Path(f"{pack}-{placed.designation}.svg")
    if path.suffix.lower() != ".svg":
        raise AssistantError(f"`{path.name}` is no SVG file, and no other picture is drawn.", "End its name in .svg.")
    try:
        path.write_text(svg_plan(drawing, placed), encoding="utf-8")
    except OSError as error:
        raise AssistantError(
            f"The picture cannot be written to {path}: {error.strerror}.", "Name another file with --out."
        ) from error
    typer.echo(json.dumps(told | {"picture": str(path)}, ensure_ascii=False) if as_json else str(path))
    if _viewer() and not as_json:
        typer.launch(str(path))


def _viewer() -> bool:
    """A screen and something that opens files; a pipe or a test has none."""
    if not sys.stdout.isatty():
        return False
    if sys.platform != "linux":
        return True
    return bool(os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY")) and shutil.which("xdg-open") is not None
