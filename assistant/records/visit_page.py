"""A prepared visit -> one HTML page that needs nothing beside itself: readable, printable, light and dark."""

from __future__ import annotations

from assistant.domain.visit import Visit
from assistant.records.page import environment
from assistant.records.visit_wording import (
    ALWAYS,
    LEAST_SHOWN,
    OTHERS,
    carried_groups,
    other_causes,
    percent,
    time_needed,
    why_so_much,
)


def visit_as_page(visit: Visit) -> str:
    """The whole visit, with boxes to tick."""
    made = environment()
    made.filters["percent"] = percent
    return made.get_template("visit_page.html.j2").render(
        title="Visit",
        visit=visit,
        groups=carried_groups(visit),
        why=why_so_much(visit),
        time=time_needed(visit),
        rest=other_causes(visit),
        least=LEAST_SHOWN,
        others=OTHERS,
        always=ALWAYS if visit.isolates else "",
    )
