"""A run -> one HTML file that needs nothing beside it: no network, no other file, the same bytes for the same run."""

from __future__ import annotations

import base64
import hashlib
import re
from collections.abc import Mapping, Sequence
from importlib.resources import files
from pathlib import Path
from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from assistant.domain.knowledge import KnowledgeBase
from assistant.errors import SettingsError
from assistant.retrieval.store import load_calibration
from eval.measures import Measure
from eval.quality import confidence_and_loss, summary
from eval.report.confusion import OUTSIDE, confusions, matrix
from eval.report.details import details
from eval.report.plots import bar_plot, confusion_plot, latency_plot, risk_plot, scale_plot
from eval.report.svg import Plot
from eval.report.verdicts import Verdict
from eval.report.views import entry_views, question_views, set_views
from eval.report.words import WORDINGS, figure, judged, wording
from eval.runs import Run
from eval.signature import SHORT
from eval.tables import Table

PAIRS = 25
"""Confused pairs that are drawn and listed."""


def report(
    run: Run,
    knowledge: KnowledgeBase,
    tables: Sequence[Table] = (),
    scale: Sequence[tuple[int, float]] = (),
    bars: Mapping[str, float] = {},
    *,
    threshold: float | None = None,
) -> str:
    """The page.

    `tables` are further findings; `scale` points (passages, ms a search); `bars` the value wanted of a measure, by its
    name; `threshold` the chance of being covered below which a question is given up, by default the fitted one.
    """
    seen = run.all
    chance = load_calibration()[0].threshold if threshold is None else threshold
    measures = {name: summary(run.sets[name], run.signature.seed) for name in sorted(run.sets)}
    pairs = confusions(seen)
    style, script = _own("style.css"), _own("script.js")
    views = question_views(run)
    return (
        _environment()
        .get_template("page.html.j2")
        .render(
            style=Markup(style),
            script=Markup(script),
            script_digest=base64.b64encode(hashlib.sha256(script.encode()).digest()).decode(),
            signature=run.signature,
            digest=knowledge.digest,
            stale=knowledge.digest[:SHORT] != run.signature.knowledge[:SHORT],
            sets=set_views(run),
            measured=_measured(measures, bars),
            glossary=WORDINGS,
            bar_plots=[
                bar_plot(f"bars-{i}", f"Measures, {n} questions", m, bars) for i, (n, m) in enumerate(measures.items())
            ],
            risk_plots=_risk_plots(run, chance),
            given_up=[(n, sum(o.outcome == "not_covered" for o in run.sets[n]), len(run.sets[n])) for n in measures],
            threshold=chance,
            confusion=confusion_plot("confusion", "Wanted against first", matrix(pairs, PAIRS)),
            pairs=pairs[:PAIRS],
            pair_count=len(pairs),
            taken=sum(p.times for p in pairs),
            outside=OUTSIDE,
            latency=latency_plot("latency", "Time an answer takes", [o.elapsed_ms for o in seen]),
            scale=scale_plot("scale", "Time a search takes as the knowledge grows", scale) if scale else None,
            questions=views,
            asked=[item.case.q for item in seen],
            verdicts=list(Verdict),
            groups=sorted({v.group for v in views}),
            outcomes=sorted({v.outcome for v in views}),
            entries=entry_views(seen, knowledge, pairs),
            tables=tables,
            details=details(seen),
        )
    )


def write_report(
    path: Path,
    run: Run,
    knowledge: KnowledgeBase,
    tables: Sequence[Table] = (),
    scale: Sequence[tuple[int, float]] = (),
    bars: Mapping[str, float] = {},
) -> None:
    """Write the page whole or not at all.

    Raises:
        SettingsError: the file cannot be written there.

    """
    text = report(run, knowledge, tables, scale, bars)
    partial = path.with_name(f"{path.name}.part")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        partial.write_text(text, encoding="utf-8", newline="\n")
        partial.replace(path)
    except OSError as error:
        raise SettingsError(
            f"The report cannot be written to {path}: {error.strerror}.",
            "Name a file in a folder that you may write to.",
        ) from error


def _risk_plots(run: Run, threshold: float) -> list[Plot]:
    plots = []
    for place, name in enumerate(sorted(run.sets)):
        confidence, loss = confidence_and_loss(run.sets[name])
        plots.append(risk_plot(f"risk-{place}", f"Risk and coverage, {name} questions", confidence, loss, threshold))
    return plots


def _measured(measures: Mapping[str, Sequence[Measure]], bars: Mapping[str, float]) -> list[dict[str, Any]]:
    """A row a measure and set, measures in the order of the table of quality."""
    rows = []
    for name in dict.fromkeys(m.name for some in measures.values() for m in some):
        for which, some in measures.items():
            for item in some:
                if item.name == name:
                    words, bar = wording(item), bars.get(name)
                    rows.append(
                        {
                            "set": which,
                            "item": item,
                            "words": words,
                            "mean": figure(item.mean, words),
                            "interval": f"{figure(item.low, words).removesuffix(' %')} to {figure(item.high, words)}"
                            if item.high > item.low
                            else "",
                            "bar": "" if bar is None else figure(bar, words),
                            "judged": judged(item, bar),
                        }
                    )
    return rows


def _own(name: str) -> str:
    return files("eval.report").joinpath(name).read_text(encoding="utf-8")


def _environment() -> Environment:
    """Everything is escaped, whatever the template's name; a name that is missing is an error."""
    made = Environment(
        loader=PackageLoader("eval.report"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    made.policies["json.dumps_kwargs"] = {"sort_keys": True, "separators": (",", ":"), "ensure_ascii": False}
    made.tests["figure"] = _is_figure
    made.filters["sentence"] = _sentence
    return made


def _is_figure(value: str) -> bool:
    """Whether a cell is a number, to be set to the right and sorted as one."""
    return bool(re.fullmatch(r"[+-]?\d+(?:\.\d+)?", value))


def _sentence(count: int, one: str, many: str) -> str:
    """`1 question`, `1,513 questions`."""
    return f"{count:,} {one if count == 1 else many}"
