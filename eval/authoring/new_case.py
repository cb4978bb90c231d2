"""A question and a few answers of the author -> a case in a file of cases, checked before it stays there."""

from __future__ import annotations

import difflib
import json
from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass
from pathlib import Path

from assistant.domain.knowledge import KnowledgeBase
from assistant.domain.terms import Hazard
from assistant.errors import BadQuestion, KnowledgeError
from eval.cases import OUTCOMES, SETS, read_cases
from eval.observation import Observed

FILE = "from_use.yaml"
"""Where cases of one's own go; a group of its own in every table."""
Ask = Callable[[str], str]
SHORT = {"a": "answered", "n": "not_covered", "r": "refused", "w": "which_machine"}


@dataclass(frozen=True, slots=True, kw_only=True)
class NewCase:
    """What the author said of a question."""

    question: str
    outcome: str
    relevant: tuple[tuple[str, int], ...] = ()
    hazards: tuple[str, ...] = ()
    refusal: str = ""
    machine: str = ""
    code: str = ""

    def as_yaml(self) -> str:
        """One item of a file of cases; JSON strings are YAML strings."""
        lines = [f"- q: {json.dumps(self.question, ensure_ascii=False)}"]
        if self.relevant:
            lines.append(f"  relevant: {{{', '.join(f'{entry}: {grade}' for entry, grade in self.relevant)}}}")
        lines.append(f"  outcome: {self.outcome}")
        if self.hazards:
            lines.append(f"  hazards: [{', '.join(self.hazards)}]")
        for key in ("refusal", "machine", "code"):
            if value := getattr(self, key):
                lines.append(f"  {key}: {json.dumps(value)}")
        return "\n".join(lines) + "\n"


def interview(seen: Observed, knowledge: KnowledgeBase, ask: Ask, write: Callable[[str], None]) -> NewCase:
    """Ask the author what should come of a question, with what comes of it now in view.

    Raises:
        BadQuestion: an answer names something that does not exist.

    """
    write(f"question: {seen.case.q}\nnow: {seen.outcome}{f' ({seen.refusal})' if seen.refusal else ''}")
    for number, entry in enumerate(seen.ranking[:5], start=1):
        write(f"  {number}  {entry}")
    told = ask("What should come of it: (a)nswered, (n)ot covered, (r)efused, (w)hich machine? ").strip().lower() or "a"
    outcome = SHORT.get(told[0], told)
    if outcome not in OUTCOMES:
        raise BadQuestion(f"There is no outcome `{told}`.", f"One of {', '.join(OUTCOMES)}.")
    ids = [str(entry.full_id) for entry in knowledge.entries()]
    if outcome == "refused":
        refusals = [str(r.full_id) for r in knowledge.refusals]
        named = ask("Which refusal (its id or the end of it)? ")
        return NewCase(
            question=seen.case.q, outcome=outcome, refusal=_entry(named, refusals), machine=seen.case.machine
        )
    relevant: list[tuple[str, int]] = []
    if outcome == "answered":
        best = _several(ask("Which entries answer it (numbers above, or ids, with spaces)? "), seen.ranking, ids)
        beside = _several(ask("Which are useful beside (Enter: none)? "), seen.ranking, ids)
        relevant = [*((e, 2) for e in best), *((e, 1) for e in beside if e not in best)]
    hazards = ask("Which hazards must be warned of (Enter: none)? ").split()
    for hazard in hazards:
        _known(hazard, [str(h) for h in Hazard], "hazard")
    return NewCase(
        question=seen.case.q,
        outcome=outcome,
        relevant=tuple(relevant),
        hazards=tuple(hazards),
        machine=seen.case.machine,
    )


def _several(said: str, ranking: Sequence[str], ids: Collection[str]) -> list[str]:
    found = []
    for word in said.replace(",", " ").split():
        if word.isdigit() and 1 <= int(word) <= len(ranking[:5]):
            found.append(ranking[int(word) - 1])
        else:
            found.append(_entry(word, ids))
    return found


def _entry(word: str, ids: Collection[str]) -> str:
    word = word.strip()
    ending = [i for i in ids if i == word or i.endswith(f"/{word}")]
    if len(ending) == 1:
        return ending[0]
    return _known(word, ids, "entry")


def _known(word: str, names: Collection[str], what: str) -> str:
    if word in names:
        return word
    near = difflib.get_close_matches(word, list(names), n=3, cutoff=0.4)
    raise BadQuestion(f"There is no {what} `{word}`.", f"Near it: {', '.join(near) or 'nothing'}.")


def append(case: NewCase, knowledge: KnowledgeBase, folder: Path = SETS["development"]) -> Path:
    """Write the case, and take it back if the folder then has a fault.

    Raises:
        KnowledgeError: the case repeats a question or a phrasing, or contradicts itself.

    """
    path = folder / FILE
    before = path.read_text(encoding="utf-8") if path.exists() else None
    path.write_text((before or "") + case.as_yaml(), encoding="utf-8")
    try:
        read_cases(folder, knowledge)
    except KnowledgeError:
        if before is None:
            path.unlink()
        else:
            path.write_text(before, encoding="utf-8")
        raise
    return path
