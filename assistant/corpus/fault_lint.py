"""Fault models -> the faults of their likelihoods, repairs and proofs, as the author can mend them."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterator, Mapping
from typing import Any

from assistant.corpus.panel_lint import lint_likely, lint_panel
from assistant.domain.entries import Check, CheckOutcome, FaultModel
from assistant.domain.likelihood import SUM_FROM, SUM_TO, WORDS, raw_column
from assistant.domain.terms import Energy

Found = Iterator[tuple[tuple[str | int, ...], str, str]]
SOMETHING_ELSE = (0.02, 0.10)
NEEDED = ("title", "do", "good", "bad")


def lint_fault_model(
    item: FaultModel,
    whole_checks: Mapping[str, Check],
    ids: Collection[str],
    codes: Collection[tuple[str, str]],
    tables: Any,
) -> Found:
    """All faults of one model; `whole_checks` are the checks written in full, by `pack/fault/slug#check`."""
    for where, names in (
        ("causes", [c.id for c in item.causes]),
        ("checks", [c.id for c in item.checks]),
        ("repairs", [r.id for r in item.repairs]),
    ):
        for name, count in Counter(names).items():
            if count > 1:
                yield (where,), f"`{name}` is written {count} times", "ids inside an entry are unique"
    causes = {cause.id for cause in item.causes}
    for i, cause in enumerate(item.causes):
        if cause.weight <= 0:
            yield ("causes", i, "weight"), f"the weight {cause.weight} is not above zero", "give its relative frequency"
    for i, check in enumerate(item.checks):
        yield from _shared(check, i, whole_checks)
        yield from _energy(check, i)
        yield from _outcomes(check, i, causes, tables)
    yield from _repairs(item, causes, ids)
    if not SOMETHING_ELSE[0] <= item.something_else <= SOMETHING_ELSE[1]:
        yield (
            ("something_else",),
            f"{item.something_else} for something else",
            f"from {SOMETHING_ELSE[0]} to {SOMETHING_ELSE[1]}",
        )
    if item.proof is None:
        yield ("proof",), "nothing proves the repair", "write proof: with its minutes and energy"
    for i, code in enumerate(item.codes):
        if (item.pack, code) not in codes:
            yield ("codes", i), f"no code {code} in {item.pack}", "name one that exists"
    yield from lint_panel(item, causes, codes)


def _shared(check: Check, i: int, whole: Mapping[str, Check]) -> Found:
    where = ("checks", i)
    if not check.same_as:
        for key in NEEDED:
            if not getattr(check, key):
                yield (
                    where,
                    f"the check `{check.id}` has no `{key}`",
                    "write it, or name the same check elsewhere with same_as",
                )
        if check.minutes <= 0:
            yield (*where, "minutes"), f"{check.minutes} minutes", "say how long it takes"
        return
    if check.same_as not in whole:
        yield where, f"no check `{check.same_as}` that is written in full", "pack/fault/slug#check"
        return
    for key in NEEDED:
        if getattr(check, key):
            yield (*where, key), f"`{key}` stands at {check.same_as}", "remove it here"
    said = {outcome.says[0] for outcome in whole[check.same_as].outcomes if outcome.says}
    mine = {outcome.says[0] for outcome in check.outcomes if outcome.says}
    if said != mine:
        yield (*where, "outcomes"), f"other outcomes than {check.same_as}", f"they are: {', '.join(sorted(said))}"


def _energy(check: Check, i: int) -> Found:
    if check.live and Energy.ISOLATED in (check.energy, *check.also):
        yield ("checks", i, "live"), "live and isolated at once", "a meter on live parts needs the supply on"


def _outcomes(check: Check, i: int, causes: Collection[str], tables: Any) -> Found:
    where: tuple[str | int, ...] = ("checks", i, "outcomes")
    if len(check.outcomes) < 2:
        yield where, f"{len(check.outcomes)} outcomes", "a check has two at least, one of them normal"
        return
    if sum(outcome.normal for outcome in check.outcomes) != 1:
        yield (
            where,
            f"{sum(o.normal for o in check.outcomes)} normal outcomes",
            "mark one as normal: true; it takes what the others leave",
        )
    said = [word.lower() for outcome in check.outcomes for word in outcome.says]
    for word, count in Counter(said).items():
        if count > 1:
            yield where, f"`{word}` is said for {count} outcomes", "a word belongs to one outcome"
    good = True
    for j, outcome in enumerate(check.outcomes):
        for place, message, hint in _outcome(check, outcome, causes, tables):
            good = False
            yield (*where, j, *place), message, hint
    if isinstance(check.default, str) and check.default not in WORDS:
        yield ("checks", i, "default"), f"no likelihood word `{check.default}`", f"one of {', '.join(WORDS)}"
        return
    if not good:
        return
    for cause in sorted(causes):
        total = sum(raw_column(check, cause))
        if not SUM_FROM <= total <= SUM_TO:
            yield (
                where,
                f"the likelihoods under `{cause}` sum to {total:.2f}",
                "a column sums to one",
            )
    if not any(outcome.likely for outcome in check.outcomes):
        yield (
            where,
            "no outcome is likelier under any cause",
            "a check that tells nothing apart costs minutes for nothing",
        )


def _outcome(check: Check, outcome: CheckOutcome, causes: Collection[str], tables: Any) -> Found:
    if not outcome.says:
        yield ("says",), "no words for it", "write what a technician would say, the shortest first"
    yield from lint_likely(outcome.likely, causes)
    if outcome.normal and outcome.likely:
        yield ("likely",), "a normal outcome takes what the others leave", "remove its likelihoods"
    for key in ("within", "below", "above"):
        name = getattr(outcome, key)
        if name and all(name not in some for some in tables):
            yield (key,), f"`{name}` is no value here", "name one of `values:`"
        if name and check.reading is None and not check.same_as:
            yield (key,), "a limit, but the check asks for no reading", "write reading: {unit, lowest, highest}"


def _repairs(item: FaultModel, causes: Collection[str], ids: Collection[str]) -> Found:
    cured = {cause for repair in item.repairs for cause in repair.cures}
    for i, cause in enumerate(item.causes):
        if cause.id not in cured:
            yield ("causes", i), f"no repair cures `{cause.id}`", "write one in repairs:"
    for i, repair in enumerate(item.repairs):
        for name, chance in repair.cures.items():
            if name not in causes:
                yield ("repairs", i, "cures"), f"no cause `{name}`", f"the causes are: {', '.join(sorted(causes))}"
            if not 0.0 < chance <= 1.0:
                yield ("repairs", i, "cures"), f"the chance {chance}", "above 0, at most 1"
        if repair.minutes <= 0:
            yield ("repairs", i, "minutes"), f"{repair.minutes} minutes", "say how long it takes"
        for key, wanted in (("parts", repair.parts), ("procedure", (repair.procedure,) if repair.procedure else ())):
            for name in wanted:
                if name not in ids:
                    yield ("repairs", i, key), f"no entry `{name}`", "see the ids of parts and procedures"
    if item.repairs and item.hand_over <= max(r.minutes for r in item.repairs) / 2:
        yield (
            ("hand_over",),
            f"handing over in {item.hand_over} minutes is cheaper than the repairs",
            "it is the last resort",
        )
