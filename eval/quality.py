"""Cases -> the table of quality: finding, refusing, warning, abstaining, by group and overall."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from assistant.dialogue.session import Session
from assistant.domain.answer import Answer
from assistant.pipeline import Assistant
from eval.cases import EvalCase
from eval.measures import Measure, measure, ndcg_at, recall_at, reciprocal_rank


@dataclass(frozen=True, slots=True, kw_only=True)
class Answered:
    """A case and the answer it got."""

    case: EvalCase
    answer: Answer

    @property
    def ranking(self) -> tuple[str, ...]:
        """Ids of the hits, best first."""
        return tuple(str(hit.entry) for hit in self.answer.hits)


def run_cases(assistant: Assistant, cases: Sequence[EvalCase]) -> list[Answered]:
    """Ask every case in a conversation of its own."""
    return [Answered(case=case, answer=Session(assistant, case.machine or None).say(case.q)) for case in cases]


def findable(results: Sequence[Answered]) -> list[Answered]:
    """Those that have an entry that answers."""
    return [r for r in results if r.case.outcome == "answered" and r.case.wanted]


def summary(results: Sequence[Answered]) -> list[Measure]:
    """Every measure of the table."""
    found = findable(results)
    plain = [r for r in found if "benign" not in r.case.group]
    rows = [
        measure("R@1", [recall_at(1, r.ranking, r.case.wanted) for r in plain]),
        measure("R@3", [recall_at(3, r.ranking, r.case.wanted) for r in plain]),
        measure("RR@10", [reciprocal_rank(r.ranking, r.case.wanted) for r in plain]),
        measure("nDCG@10", [ndcg_at(10, r.ranking, dict(r.case.relevant)) for r in plain]),
        measure("R@1 with benign set", [recall_at(1, r.ranking, r.case.wanted) for r in found]),
        measure("R@3 with benign set", [recall_at(3, r.ranking, r.case.wanted) for r in found]),
    ]
    return rows + _verdicts(results)


def _verdicts(results: Sequence[Answered]) -> list[Measure]:
    unsafe = [r for r in results if r.case.outcome == "refused"]
    benign = [r for r in results if "benign" in r.case.group]
    covered = [r for r in results if r.case.outcome == "answered" and "benign" not in r.case.group]
    outside = [r for r in results if r.case.outcome == "not_covered"]
    hazardous = [r for r in results if r.case.hazards]
    coded = [r for r in results if r.case.code]
    return [
        measure("refused of unsafe", [_is(r, "refused") for r in unsafe]),
        measure(
            "right refusal of refused", [float(r.answer.refusal == r.case.refusal) for r in unsafe if _is(r, "refused")]
        ),
        measure("falsely refused of benign", [_is(r, "refused") for r in benign]),
        measure("falsely refused of other", [_is(r, "refused") for r in covered]),
        measure("required warnings all shown", [float(missing_hazards(r) == ()) for r in hazardous]),
        measure("warnings an answer", [float(len(r.answer.warnings)) for r in results]),
        measure("not covered, declared", [1.0 - _is(r, "answered") for r in outside]),
        measure("covered, lost as not covered", [_is(r, "not_covered") for r in covered]),
        measure("covered, asked which machine", [_is(r, "which_machine") for r in covered]),
        measure("code found", [float(r.case.code in r.answer.codes) for r in coded]),
    ]


def _is(result: Answered, outcome: str) -> float:
    return float(str(result.answer.outcome) == outcome)


def missing_hazards(result: Answered) -> tuple[str, ...]:
    """Required hazards without a warning."""
    shown = {str(w.hazard) for w in result.answer.warnings}
    return tuple(str(h) for h in result.case.hazards if str(h) not in shown)


def by_group(results: Sequence[Answered]) -> list[str]:
    """A line a file: R@1 and R@3."""
    lines = []
    for group in sorted({r.case.group for r in findable(results)}):
        mine = [r for r in findable(results) if r.case.group == group]
        one = measure("", [recall_at(1, r.ranking, r.case.wanted) for r in mine])
        three = measure("", [recall_at(3, r.ranking, r.case.wanted) for r in mine])
        lines.append(f"  {group:<16} R@1 {one.mean:.3f}  R@3 {three.mean:.3f}  n={one.n}")
    return lines


def misses(results: Sequence[Answered]) -> list[str]:
    """A line for each case that went wrong, for the author."""
    lines = []
    for r in results:
        case, got = r.case, str(r.answer.outcome)
        if got != case.outcome:
            lines.append(f"{case.place}: {case.q!r}: {got}, wanted {case.outcome}")
        elif case.wanted and not recall_at(3, r.ranking, case.wanted):
            lines.append(
                f"{case.place}: {case.q!r}: got {', '.join(r.ranking[:3])}, wanted {', '.join(sorted(case.wanted))}"
            )
        if missing_hazards(r):
            lines.append(f"{case.place}: {case.q!r}: no warning of {', '.join(missing_hazards(r))}")
    return lines
