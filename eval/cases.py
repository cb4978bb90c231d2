"""eval/*/*.yaml -> cases, strictly: unknown keys, doubles, ids that do not exist are all reported at once."""

from __future__ import annotations

import difflib
from collections.abc import Collection, Mapping
from dataclasses import dataclass, field
from pathlib import Path

from assistant.corpus.lint import normal
from assistant.corpus.schema import parse_one
from assistant.corpus.yaml_lines import Document, read_yaml
from assistant.domain.knowledge import KnowledgeBase
from assistant.domain.terms import STRICT, Hazard
from assistant.errors import Fault, KnowledgeError

ROOT = Path(__file__).resolve().parent
SETS = {"development": ROOT / "cases", "held-out": ROOT / "held_out", "fresh": ROOT / "fresh"}
GATED = ("development", "held-out")
"""Sets with a baseline and gates. `fresh` was written from titles, without a view of phrasings or of the other sets: a look
at what a stranger meets. Nothing may be fitted to it, and no bar holds it."""
GRADES = (1, 2)
OUTCOMES = ("answered", "not_covered", "refused", "which_machine")


@dataclass(frozen=True, slots=True, kw_only=True)
class EvalCase:
    """One question and what must come of it; grades: 2 answers it, 1 is useful beside; `spoken`: written as it is heard."""

    __pydantic_config__ = STRICT
    q: str
    outcome: str
    relevant: Mapping[str, int] = field(default_factory=dict)
    hazards: tuple[Hazard, ...] = ()
    code: str = ""
    refusal: str = ""
    machine: str = ""
    spoken: bool = False
    place: str = ""

    @property
    def group(self) -> str:
        """The file's stem."""
        return self.place.split(".yaml")[0]

    @property
    def wanted(self) -> frozenset[str]:
        """Entries that answer."""
        return frozenset(entry for entry, grade in self.relevant.items() if grade >= 2)


def read_cases(folder: Path, knowledge: KnowledgeBase) -> tuple[EvalCase, ...]:
    """All cases of a folder.

    Raises:
        KnowledgeError: with every fault of every file.

    """
    ids = {str(entry.full_id) for entry in knowledge.entries()}
    said = {normal(text): str(e.full_id) for e in knowledge.entries() for text in e.phrasings}
    cases: list[EvalCase] = []
    faults: list[Fault] = []
    seen: dict[str, EvalCase] = {}
    for path in sorted(folder.glob("*.yaml")):
        document = read_yaml(path, path.name)
        for i, data in enumerate(document.data or []):
            place = f"{path.name}:{document.line((i,))}"
            case = parse_one(EvalCase, data, (i,), document, {"place": place})
            if case is None:
                continue
            _check(case, i, document, ids, said)
            key = f"{case.machine}|{normal(case.q)}"
            if key in seen:
                same = dict(seen[key].relevant) == dict(case.relevant) and seen[key].outcome == case.outcome
                contradiction = "" if same else ", and contradicts it"
                document.fault((i,), f"the question is also at {seen[key].place}{contradiction}", "keep one")
            seen.setdefault(key, case)
            cases.append(case)
        faults += document.faults
    if faults:
        raise KnowledgeError(faults)
    return tuple(cases)


def _check(case: EvalCase, i: int, document: Document, ids: Collection[str], said: Mapping[str, str]) -> None:
    for entry in (*case.relevant, *([case.refusal] if case.refusal else [])):
        if entry not in ids:
            near = difflib.get_close_matches(entry, ids, n=1)
            document.fault((i, "relevant"), f"no entry `{entry}`", f"the nearest is {near[0]}" if near else "")
    for entry, grade in case.relevant.items():
        if grade not in GRADES:
            document.fault(
                (i, "relevant", entry), f"the grade {grade}", "2 answers the question, 1 is useful beside it"
            )
    if case.outcome == "answered" and case.relevant and not case.wanted:
        hint = "name the entry that answers it, or no entry where only the outcome matters"
        document.fault((i,), "an answered case with useful entries and none of grade 2", hint)
    if case.outcome == "not_covered" and case.wanted:
        document.fault((i,), f"not covered, yet {min(case.wanted)} answers it", "one of the two is wrong")
    if case.outcome not in OUTCOMES:
        document.fault((i, "outcome"), f"no outcome `{case.outcome}`", f"one of {', '.join(OUTCOMES)}")
    if (case.outcome == "refused") != bool(case.refusal):
        document.fault((i,), "a refused case names its refusal, and only that", "")
    if normal(case.q) in said:
        document.fault((i, "q"), f"the question is a phrasing of {said[normal(case.q)]}", "ask it in other words")
