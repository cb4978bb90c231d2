"""A run and a kept baseline -> which questions got better, which were lost, and whether the gates hold."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import asdict, dataclass, replace
from pathlib import Path

import yaml

from assistant.domain.entries import Entry
from assistant.domain.knowledge import KnowledgeBase
from assistant.errors import AssistantError
from assistant.retrieval.analysis import terms_of
from assistant.retrieval.passages import asked_passages, told_passages
from eval.cases import ROOT
from eval.observation import Observed
from eval.quality import missing_hazards, summary
from eval.runs import Run
from eval.signature import Signature, differences

FOLDER = ROOT / "baselines"
GATES = ROOT / "gates.yaml"
FREE = ("knowledge", "code")
"""Parts of the signature that may differ: their effect is what the comparison is for."""


class BaselineError(AssistantError):
    """A baseline that cannot be read or may not be compared with."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Kept:
    """What a baseline keeps of one case: the first hit, the place of the first wanted entry (0 = not among ten)."""

    outcome: str
    wanted: str
    first: str
    place: int
    unwarned: tuple[str, ...] = ()

    @property
    def worth(self) -> int:
        """Higher is better: right outcome first, then the place of what was wanted."""
        if self.outcome != self.wanted:
            return 0
        return 100 - (self.place if self.place else 50) - 20 * len(self.unwarned)


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """One question whose result changed; `words` are its terms that the entry which now comes first holds."""

    question: str
    place: str
    before: Kept
    after: Kept
    words: tuple[str, ...]

    def __str__(self) -> str:
        """Two lines for the author."""
        one = f"{self.place}: {self.question!r}: {_told(self.before)} -> {_told(self.after)}"
        if self.after.first == self.before.first:
            return one
        return f"{one}\n      first is now {self.after.first} (was {self.before.first}) by: {', '.join(self.words) or 'sense alone'}"


def _told(kept: Kept) -> str:
    if kept.outcome != kept.wanted:
        return f"{kept.outcome} (wanted {kept.wanted})"
    place = f"place {kept.place}" if kept.place else "not among ten" if kept.wanted == "answered" else kept.outcome
    return f"{place}, no warning of {', '.join(kept.unwarned)}" if kept.unwarned else place


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparison:
    """Better and worse questions of one set, and the measures that moved."""

    better: tuple[Change, ...]
    worse: tuple[Change, ...]
    unsafe_let_through: tuple[Change, ...]
    warnings_lost: tuple[Change, ...]


def keep(item: Observed) -> Kept:
    """What a baseline keeps of an observation."""
    place = next((i for i, entry in enumerate(item.ranking, start=1) if entry in item.case.wanted), 0)
    return Kept(
        outcome=item.outcome,
        wanted=item.case.outcome,
        first=item.ranking[0] if item.ranking else "",
        place=place,
        unwarned=missing_hazards(item),
    )


def key_of(item: Observed) -> str:
    """What names a case in a baseline: its question, and the machine in scope."""
    return f"{item.case.machine}|{item.case.q}"


def path_of(name: str) -> Path:
    """Where the baseline of a set lies."""
    return FOLDER / f"{name}.json"


def write(run: Run, name: str) -> Path:
    """Keep the results of one set as the new baseline, a case a line, so that its history reads well."""
    FOLDER.mkdir(exist_ok=True)
    cases = {key_of(o): asdict(keep(o)) for o in run.sets[name]}
    measures = {m.name: round(m.mean, 4) for m in summary(run.sets[name], run.signature.seed)}
    lines = [f"  {json.dumps(key, ensure_ascii=False)}: {json.dumps(cases[key])}" for key in sorted(cases)]
    head = f'{{"signature": {json.dumps(asdict(run.signature))},\n "measures": {json.dumps(measures)},\n "cases": {{\n'
    path = path_of(name)
    path.write_text(head + ",\n".join(lines) + "\n}}\n", encoding="utf-8")
    return path


def read(name: str) -> tuple[Signature, dict[str, Kept], dict[str, float]]:
    """The baseline of a set: signature, cases, measures.

    Raises:
        BaselineError: there is none, or it is broken.

    """
    path = path_of(name)
    try:
        data = json.loads(path.read_text(encoding="utf-8"))
        kept = {key: Kept(**{**item, "unwarned": tuple(item["unwarned"])}) for key, item in data["cases"].items()}
        return Signature(**data["signature"]), kept, data["measures"]
    except FileNotFoundError as error:
        raise BaselineError(f"There is no baseline of `{name}`.", "Run `python -m eval baseline`.") from error
    except (OSError, ValueError, KeyError, TypeError) as error:
        raise BaselineError(
            f"The baseline {path.name} cannot be read: {error}", "Run `python -m eval baseline`."
        ) from error


def compare(run: Run, name: str, knowledge: KnowledgeBase, *, anyway: bool = False) -> Comparison:
    """The set's observations against its baseline; `anyway` compares the questions that both have.

    Raises:
        BaselineError: its signature differs in more than knowledge and code.

    """
    signature, before, _ = read(name)
    against = [d for d in differences(signature, run.signature) if d.split(":")[0] not in FREE]
    if against and not anyway:
        raise BaselineError(
            f"The baseline of `{name}` was made under other conditions: {'; '.join(against)}.",
            "Make it anew with `python -m eval baseline`, or compare what both have with `--anyway`.",
        )
    entries = {str(e.full_id): e for e in knowledge.entries()}
    changes = []
    for item in run.sets[name]:
        old, new = before.get(key_of(item)), keep(item)
        if old is not None and old != new:
            old = replace(old, wanted=new.wanted)
            changes.append(
                Change(
                    question=item.case.q,
                    place=item.case.place,
                    before=old,
                    after=new,
                    words=shared_words(item.case.q, entries.get(new.first)),
                )
            )
    return Comparison(
        better=tuple(c for c in changes if c.after.worth > c.before.worth),
        worse=tuple(c for c in changes if c.after.worth < c.before.worth),
        unsafe_let_through=tuple(
            c for c in changes if c.before.outcome == "refused" == c.after.wanted != c.after.outcome
        ),
        warnings_lost=tuple(c for c in changes if set(c.after.unwarned) - set(c.before.unwarned)),
    )


def shared_words(question: str, entry: Entry | None) -> tuple[str, ...]:
    """Stems of the question that the entry's own texts hold, in the question's order."""
    if entry is None:
        return ()
    texts = [p.text for p in (*asked_passages(entry), *told_passages(entry))]
    have = {term for text in texts for term in terms_of(text)}
    return tuple(dict.fromkeys(term for term in terms_of(question) if term in have))


def as_lines(name: str, comparison: Comparison) -> list[str]:
    """The comparison for a terminal."""
    lines = [f"{name} against its baseline: {len(comparison.better)} better, {len(comparison.worse)} worse"]
    lines += [f"  + {change}" for change in comparison.better]
    lines += [f"  - {change}" for change in comparison.worse]
    return lines


def broken_gates(run: Run, name: str, comparison: Comparison | None) -> list[str]:
    """A line a gate of eval/gates.yaml that does not hold, with the questions lost."""
    gates = yaml.safe_load(GATES.read_text(encoding="utf-8"))
    broken = []
    means = {m.name: m.mean for m in summary(run.sets[name], run.signature.seed)}
    for measure_name, bound in gates[name]["at least"].items():
        if means[measure_name] < bound:
            broken.append(f"{name}: {measure_name} is {means[measure_name]:.3f}, at least {bound}")
    for measure_name, bound in gates[name]["at most"].items():
        if means[measure_name] > bound:
            broken.append(f"{name}: {measure_name} is {means[measure_name]:.3f}, at most {bound}")
    if comparison is not None:
        broken += _lost(name, comparison, gates["against the baseline"], len(run.sets[name]))
    return broken


def bars() -> dict[str, float]:
    """Measure -> the bound that the gates set, for the report's plots."""
    gates = yaml.safe_load(GATES.read_text(encoding="utf-8"))["held-out"]
    return {**gates["at least"], **gates["at most"]}


def _lost(name: str, comparison: Comparison, gates: Mapping[str, float], cases: int) -> list[str]:
    broken = []
    most = gates["net questions lost, share"] * cases
    if len(comparison.worse) - len(comparison.better) > most:
        broken.append(f"{name}: {len(comparison.worse)} questions worse, {len(comparison.better)} better; lost:")
        broken += [f"  - {change}" for change in comparison.worse]
    for what, changes in (
        ("unsafe questions let through", comparison.unsafe_let_through),
        ("questions without their warning", comparison.warnings_lost),
    ):
        if len(changes) > gates[what]:
            broken.append(f"{name}: {len(changes)} {what}:")
            broken += [f"  - {change}" for change in changes]
    return broken
