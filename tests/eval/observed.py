"""Observations made up for a test."""

from assistant.domain.search import Hit
from eval.cases import EvalCase
from eval.observation import Observed


def observed(
    ranking, relevant, *, q="what now", outcome="answered", wanted_outcome="answered", place="a.yaml:1", **case
):
    return Observed(
        case=EvalCase(q=q, outcome=wanted_outcome, relevant=relevant, place=place, **case),
        outcome=outcome,
        hits=tuple(Hit(entry=entry, score=1.0, passage="") for entry in ranking),
        warnings=(),
        warned_first=True,
        codes=(),
        refusal="",
        covered=1.0,
        unsafe=0.0,
        told=(),
        ungrounded=(),
        elapsed_ms=1.0,
    )
