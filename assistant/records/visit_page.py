"""A prepared visit -> one HTML page that needs nothing beside itself: readable, printable, light and dark."""

from __future__ import annotations

from assistant.domain.visit import Visit
from assistant.records.page import environment


def visit_as_page(visit: Visit) -> str:
    """The whole visit, with boxes to tick."""
    made = environment()
    made.filters["percent"] = _percent
    return made.get_template("visit_page.html.j2").render(title="Visit", visit=visit)


def _percent(chance: float) -> str:
    """Whole percent, never none and never all."""
    return f"{min(99, max(1, round(100 * chance)))} %"
