"""Observations -> the data behind the rows of the page, each text written once."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from eval.observation import Observed
from eval.quality import missing_hazards
from eval.report.verdicts import told_of

DETAILED = 5
"""Hits that a question's details show."""


class Texts:
    """Texts by the place they were first seen at: a passage or sentence that many answers share stands once."""

    def __init__(self) -> None:
        """Empty."""
        self._places: dict[str, int] = {}

    def place(self, text: str) -> int:
        """Where the text stands, added if it is new."""
        return self._places.setdefault(text, len(self._places))

    @property
    def all(self) -> tuple[str, ...]:
        """Every text in its place."""
        return tuple(self._places)


def details(seen: Sequence[Observed]) -> dict[str, Any]:
    """`texts`, the names of the `rankers`, and `questions` in the order of the run; texts are places in `texts`."""
    texts = Texts()
    rankers = tuple(sorted({name for o in seen for hit in o.hits[:DETAILED] for name, _ in hit.ranks}))
    questions = [_question(item, rankers, texts) for item in seen]
    return {"texts": texts.all, "rankers": rankers, "questions": questions}


def _question(item: Observed, rankers: Sequence[str], texts: Texts) -> dict[str, Any]:
    case = item.case
    return {
        "place": case.place,
        "machine": case.machine,
        "wanted": [[entry, grade] for entry, grade in sorted(case.relevant.items())],
        "wantedOutcome": case.outcome,
        "wantedRefusal": case.refusal,
        "outcome": item.outcome,
        "refusal": item.refusal,
        "faults": list(told_of(item)),
        "hits": [
            [
                texts.place(hit.entry),
                round(hit.score, 4),
                [dict(hit.ranks).get(r, 0) for r in rankers],
                texts.place(hit.passage),
            ]
            for hit in item.hits[:DETAILED]
        ],
        "warnings": [str(hazard) for hazard in item.warnings],
        "missing": list(missing_hazards(item)),
        "codes": list(item.codes),
        "ungrounded": list(item.ungrounded),
        "covered": round(item.covered, 4),
        "unsafe": round(item.unsafe, 4),
        "told": [texts.place(line) for line in item.told],
        "elapsedMs": round(item.elapsed_ms, 1),
    }
