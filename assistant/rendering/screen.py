"""The terminal that is there -> how wide to write and whether in colour."""

from __future__ import annotations

import os
import shutil
import sys
from collections.abc import Mapping

from assistant.rendering.terminal import Style


def screen_style(environment: Mapping[str, str] = os.environ) -> Style:
    """Colour only on a terminal and only if NO_COLOR is unset or empty (no-color.org)."""
    colour = sys.stdout.isatty() and not environment.get("NO_COLOR") and environment.get("TERM") != "dumb"
    return Style(width=shutil.get_terminal_size((80, 24)).columns, colour=colour)
