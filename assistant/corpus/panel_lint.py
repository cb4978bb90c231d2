"""What fault models say of the codes on the panel -> codes and causes that do not exist, sums, and codes that count twice."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping

from assistant.domain.entries import FaultModel
from assistant.domain.likelihood import SUM_TO, WORDS, raw_column
from assistant.domain.panel import NO_CODE, panel_check

ONE_PLACE = "told twice it would count twice"
Found = Iterator[tuple[tuple[str | int, ...], str, str]]


def lint_panel(item: FaultModel, causes: Collection[str], codes: Collection[tuple[str, str]]) -> Found:
    """Faults of `panel` and of the `codes` of outcomes; `codes` are the (pack, code) that exist."""
    yield from _places(item, codes)
    good = True
    for i, shown in enumerate(item.panel):
        if not shown.likely:
            good = False
            yield ("panel", i, "likely"), f"code {shown.code} speaks for no cause", "name one, or leave the code out"
        for place, message, hint in lint_likely(shown.likely, causes):
            good = False
            yield ("panel", i, *place), message, hint
        for _, message, hint in lint_likely({"": shown.default}, {""}):
            good = False
            yield ("panel", i, "default"), message, hint
    if not good or not item.panel:
        return
    whole = panel_check(item.panel, tuple(causes))
    for cause in sorted(causes):
        total = sum(raw_column(whole, cause))
        if total > SUM_TO:
            yield (
                ("panel",),
                f"the codes under `{cause}` sum to {total:.2f}",
                "one code stands on the panel at a time, so they sum to one at most",
            )


def _places(item: FaultModel, codes: Collection[tuple[str, str]]) -> Found:
    """Every code exists, and what it tells is written in one place, outcomes of one check or `panel`: else it counts twice."""
    where: dict[str, str] = {}
    for i, check in enumerate(item.checks):
        for j, outcome in enumerate(check.outcomes):
            for code in outcome.codes:
                if code != NO_CODE and (item.pack, code) not in codes:
                    yield (
                        ("checks", i, "outcomes", j, "codes"),
                        f"no code {code} in {item.pack}",
                        "quoted, one that exists",
                    )
                if where.setdefault(code, check.id) != check.id:
                    yield ("checks", i, "outcomes", j, "codes"), _twice(code, where[code]), ONE_PLACE
    for i, shown in enumerate(item.panel):
        if (item.pack, shown.code) not in codes:
            yield ("panel", i, "code"), f"no code {shown.code} in {item.pack}", "quoted, one that exists"
        if shown.code in where:
            yield ("panel", i, "code"), _twice(shown.code, where[shown.code]), ONE_PLACE
        where[shown.code] = "panel"


def _twice(code: str, other: str) -> str:
    return f"what code {code} tells stands at `{other}` already"


def lint_likely(likely: Mapping[str, str | float], causes: Collection[str]) -> Found:
    """Causes, words and numbers of a `likely`."""
    for cause, word in likely.items():
        if cause not in causes:
            yield ("likely",), f"no cause `{cause}`", f"the causes are: {', '.join(sorted(causes))}"
        if isinstance(word, str) and word not in WORDS:
            yield ("likely",), f"no likelihood word `{word}`", f"one of {', '.join(WORDS)}"
        elif not isinstance(word, str) and not 0.0 <= word <= 1.0:
            yield ("likely",), f"the likelihood {word}", "from 0 to 1"
