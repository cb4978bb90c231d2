"""Measures, curves, counts and times -> the plots of the page."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle

from eval.measures import Measure, area_under_risk, percentile, risk_coverage
from eval.report.confusion import OUTSIDE, Matrix
from eval.report.svg import HEAT, INK, LINE, ONE, PAPER, SOFT, TWO, WANTED, Plot, drawing, inline
from eval.report.words import Better, figure, wording

UNITS = 72.0
"""Units of the drawing to an inch of matplotlib."""


def _axes(width: float, height: float, margins: tuple[float, float, float, float]) -> tuple[Figure, Axes]:
    """A figure of this size with one pair of axes; margins left, bottom, right, top; all in units."""
    left, bottom, right, top = margins
    drawn = Figure(figsize=(width / UNITS, height / UNITS))
    place = (left / width, bottom / height, 1 - (left + right) / width, 1 - (bottom + top) / height)
    return drawn, drawn.add_axes(place)


def bar_plot(name: str, title: str, measures: Sequence[Measure], bars: Mapping[str, float]) -> Plot:
    """A bar a measure on 0 .. 1, with its interval and the bar that is wanted; n = 0 and other scales are left out."""
    shown = [m for m in measures if m.n and wording(m).better is not Better.NEITHER]
    parts = [(b, [m for m in shown if wording(m).better is b]) for b in (Better.HIGHER, Better.LOWER)]
    rows = sum(len(some) + 1 for _, some in parts if some)
    with drawing():
        drawn, axes = _axes(340, 32 * rows + 30, (4, 26, 8, 2))
        y = 0.0
        for better, some in parts:
            if some:
                axes.text(0, y + 0.35, str(better), color=SOFT, va="center", style="italic")
                y += 1
            for item in some:
                _bar(axes, item, y, bars.get(item.name))
                y += 1
        axes.set(xlim=(0, 1.005), ylim=(max(rows, 1), -0.1), yticks=[], xticks=np.linspace(0, 1, 6))
        axes.spines["left"].set_visible(False)
        words = "; ".join(f"{m.name} {figure(m.mean, wording(m))}" for m in shown) or "no measure"
        svg = inline(drawn, name, title, f"{words}.")
    wanted = " The upright stroke is the bar that is wanted." if any(m.name in bars for m in shown) else ""
    caption = f"The thin line over a bar is the 95 % interval: where the figure of other questions of the same kind most likely lies.{wanted}"
    return Plot(name=name, title=title, caption=caption, svg=svg)


def _bar(axes: Axes, item: Measure, y: float, bar: float | None) -> None:
    words = wording(item)
    colour = ONE if words.better is Better.HIGHER else TWO
    axes.text(0, y + 0.3, item.name, va="center")
    axes.text(1, y + 0.3, figure(item.mean, words), va="center", ha="right", weight="bold")
    axes.barh(y + 0.72, 1, height=0.2, color=LINE, alpha=0.45)
    axes.barh(y + 0.72, item.mean, height=0.2, color=colour)
    if item.high > item.low:
        axes.plot([item.low, item.high], [y + 0.72] * 2, color=INK, linewidth=1.4, marker="|", markersize=6)
    if bar is not None:
        axes.plot([bar, bar], [y + 0.54, y + 0.9], color=WANTED, linewidth=2.6)


def risk_plot(name: str, title: str, confidence: Sequence[float], loss: Sequence[float], threshold: float) -> Plot:
    """The risk-coverage curve (see `eval.measures.risk_coverage`), with the point at which the threshold stands."""
    points = risk_coverage(confidence, loss)
    kept = [wrong for chance, wrong in zip(confidence, loss, strict=True) if chance >= threshold]
    here = (len(kept) / max(1, len(loss)), sum(kept) / max(1, len(kept)))
    area = area_under_risk(confidence, loss)
    words = (
        f"At the threshold in use, {threshold:.3f}, {100 * here[0]:.1f} % of the questions are answered, and "
        f"{100 * here[1]:.1f} % of those first hits are wrong. Answering all would make {100 * points[-1][1]:.1f} % wrong."
        if points
        else "There is no question to draw."
    )
    with drawing():
        drawn, axes = _axes(340, 265, (52, 46, 12, 12))
        axes.grid(True, linewidth=0.6)
        axes.plot(
            [0, *(p[0] for p in points)],
            [points[0][1] if points else 0, *(p[1] for p in points)],
            color=ONE,
            linewidth=2,
        )
        axes.axvline(here[0], color=WANTED, linewidth=1, linestyle=(0, (4, 3)))
        axes.plot(*[[v] for v in here], "o", color=WANTED, markersize=8, markeredgecolor=PAPER)
        axes.annotate(
            "threshold in use", here, (-8, 14), textcoords="offset points", ha="right", color=INK, weight="bold"
        )
        top = max([here[1], *(p[1] for p in points)]) if points else 1.0
        axes.set(xlim=(0, 1.01), ylim=(0, max(0.05, top * 1.15)))
        axes.set(xlabel="share of questions answered", ylabel="share of wrong first hits")
        svg = inline(drawn, name, title, words)
    caption = f"Area under the curve (AURC) {area:.3f}, smaller is better. {words}"
    return Plot(name=name, title=title, caption=caption, svg=svg)


def latency_plot(name: str, title: str, elapsed_ms: Sequence[float]) -> Plot:
    """How many questions took how long, on a scale of times that grows by factors."""
    times = sorted(max(t, 0.01) for t in elapsed_ms)
    middle, slow = percentile(times, 0.5), percentile(times, 0.95)
    words = (
        f"Half of {len(times)} questions took at most {middle:.1f} ms, 95 % at most {slow:.1f} ms, the slowest {times[-1]:.1f} ms."
        if times
        else "No question was timed."
    )
    with drawing():
        drawn, axes = _axes(340, 240, (48, 46, 12, 28))
        if times:
            edges = np.geomspace(times[0] * 0.95, times[-1] * 1.05, 36)
            tall = axes.hist(times, bins=list(edges), color=ONE)[0]
            top = float(np.max(np.asarray(tall))) * 1.05
            for value, text, side in ((middle, "p50", "right"), (slow, "p95", "left")):
                axes.axvline(value, color=WANTED, linewidth=1.6)
                gap = f"{text} {value:.1f} ms"
                offset = (-4 if side == "right" else 4, 4)
                axes.annotate(gap, (value, top), offset, textcoords="offset points", ha=side, color=INK)
            axes.set_ylim(0, top)
            axes.set_xscale("log")
            axes.set_xlim(times[0] * 0.9, times[-1] * 1.1)
            ticks = _ticks(times[0] * 0.9, times[-1] * 1.1)
            axes.set_xticks(ticks, [f"{t:g}" for t in ticks])
            axes.set_xticks([], minor=True)
        axes.set(xlabel="milliseconds an answer", ylabel="questions")
        svg = inline(drawn, name, title, words)
    return Plot(name=name, title=title, caption=words, svg=svg)


def _ticks(low: float, high: float) -> list[float]:
    """1, 2, 5, 10, ... between two times; matplotlib's own ticks would be written as formulas."""
    powers = range(math.floor(math.log10(low)), math.ceil(math.log10(high)) + 1)
    return [step * 10.0**power for power in powers for step in (1, 2, 5) if low <= step * 10.0**power <= high]


def scale_plot(name: str, title: str, scale: Sequence[tuple[int, float]]) -> Plot:
    """Milliseconds of a search against the number of passages, both growing by factors; at least one point."""
    points = sorted(scale)
    words = "; ".join(f"{count:,} passages {ms:.2f} ms" for count, ms in points)
    with drawing():
        drawn, axes = _axes(340, 240, (56, 46, 26, 16))
        axes.grid(True, linewidth=0.6)
        axes.loglog([p[0] for p in points], [max(p[1], 1e-3) for p in points], "o-", color=ONE, linewidth=2)
        for count, ms in points:
            axes.annotate(f"{ms:.3g}", (count, max(ms, 1e-3)), (0, 7), textcoords="offset points", ha="center")
        low, high = max(1e-3, min(p[1] for p in points)) / 2, max(1e-3, *(p[1] for p in points)) * 2.5
        axes.set_ylim(low, high)
        axes.set_yticks(_ticks(low, high), [f"{t:g}" for t in _ticks(low, high)])
        axes.set_yticks([], minor=True)
        axes.set_xticks([p[0] for p in points], [f"{p[0]:,}" for p in points])
        axes.set_xticks([], minor=True)
        axes.set(xlabel="passages", ylabel="milliseconds a search")
        svg = inline(drawn, name, title, f"{words}.")
    return Plot(name=name, title=title, caption=f"{words}.", svg=svg)


def confusion_plot(name: str, title: str, counts: Matrix) -> Plot:
    """The matrix as squares, darker where it happened more often, each with its number."""
    rows, columns = len(counts.rows), len(counts.columns)
    side, letter = 24.0, 7.0
    left = letter * max(map(len, (*counts.rows, "nothing answers it"))) + 10
    top = letter * max(map(len, counts.columns), default=0) + 10
    most = max((n for row in counts.counts for n in row), default=0)
    with drawing():
        drawn, axes = _axes(left + side * columns + 8, top + side * rows + 8, (left, 8, 8, top))
        for y, row in enumerate(counts.counts):
            for x, times in enumerate(row):
                if times:
                    axes.add_patch(Rectangle((x + 0.04, y + 0.04), 0.92, 0.92, color=HEAT[_level(times, most)]))
                    axes.text(x + 0.5, y + 0.52, str(times), ha="center", va="center", weight="bold")
        axes.set(xlim=(0, max(columns, 1)), ylim=(max(rows, 1), 0))
        axes.set_yticks(
            [i + 0.5 for i in range(rows)], [r if r != OUTSIDE else "nothing answers it" for r in counts.rows]
        )
        axes.set_xticks([i + 0.5 for i in range(columns)], counts.columns, rotation=90)
        axes.tick_params(length=0, labelcolor=INK)
        axes.xaxis.tick_top()
        axes.set_xticks(range(columns + 1), minor=True)
        axes.set_yticks(range(rows + 1), minor=True)
        axes.grid(True, which="minor", linewidth=0.5)
        axes.tick_params(which="minor", length=0)
        axes.spines[:].set_visible(False)
        words = "; ".join(
            f"{times} wanted {r or 'nothing'}, got {c}"
            for r, row in zip(counts.rows, counts.counts, strict=True)
            for c, times in zip(counts.columns, row, strict=True)
            if times
        )
        svg = inline(drawn, name, title, f"{words or 'No question was taken by another entry'}.")
    caption = (
        "A row is the entry that should have come first, a column the entry that did, the number how often. "
        "The same is said in words in the table below."
    )
    return Plot(name=name, title=title, caption=caption, svg=svg, wide=True)


def _level(times: int, most: int) -> int:
    """Shade of a count: the palest for 1, the deepest for the most frequent."""
    return 0 if most <= 1 else round((len(HEAT) - 1) * (times - 1) / (most - 1))
