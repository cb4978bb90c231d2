"""Stated and observed shares -> the reliability plot, an SVG that stands alone."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from html import escape

import numpy as np

from eval.isolation.calibration import BINS, Calibration

SIDE, LEFT, TOP, LINE = 360, 64, 44, 18
COLOURS = ("#1b6ca8", "#c4591a", "#3f7f3f", "#7a4ba0")


def points(some: Calibration) -> list[tuple[float, float, float, int]]:
    """Stated mean, observed share, its standard error if the statement is right, and jobs, of each bin that is not empty."""
    at = np.minimum((some.stated * BINS).astype(int), BINS - 1)
    found = []
    for index in range(BINS):
        p, o = some.stated[at == index], some.right[at == index]
        if len(p):
            found.append((float(p.mean()), float(o.mean()), float(np.sqrt((p * (1 - p)).sum())) / len(p), len(p)))
    return found


def reliability_table(name: str, some: Calibration) -> Iterable[str]:
    """The bins in figures."""
    yield f"reliability at the first repair, {name}: stated, observed, three standard errors, jobs"
    for stated, observed, error, jobs in points(some):
        yield f"  {stated:6.3f} {observed:6.3f} ±{3 * error:5.3f} {jobs:8d}"


def reliability_svg(title: str, curves: Sequence[tuple[str, Calibration]]) -> str:
    """A curve a case; the diagonal is right, a bar is three standard errors of its point."""
    width, height = LEFT + SIDE + 24, TOP + SIDE + 56 + LINE * len(curves)
    words = "; ".join(f"{name}: error {some.error:.4f}, {len(some.stated)} jobs" for name, some in curves)
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {height}" role="img" '
        f'font-family="sans-serif" font-size="13">',
        f"<title>{escape(title)}</title><desc>{escape(words)}</desc>",
        f'<rect width="{width}" height="{height}" fill="#ffffff"/>',
        f'<text x="{LEFT}" y="24" font-weight="bold">{escape(title)}</text>',
        *_axes(),
    ]
    for index, (name, some) in enumerate(curves):
        parts += _curve(name, some, COLOURS[index % len(COLOURS)], TOP + SIDE + 56 + LINE * index)
    return "\n".join([*parts, "</svg>", ""])


def _x(share: float) -> float:
    return round(LEFT + SIDE * share, 2)


def _y(share: float) -> float:
    return round(TOP + SIDE * (1 - share), 2)


def _axes() -> Iterable[str]:
    for tick in (0.0, 0.2, 0.4, 0.6, 0.8, 1.0):
        yield f'<path d="M{_x(tick)} {_y(0)}V{_y(1)}M{_x(0)} {_y(tick)}H{_x(1)}" stroke="#dddddd"/>'
        yield f'<text x="{_x(tick)}" y="{_y(0) + 16}" text-anchor="middle">{tick:.1f}</text>'
        yield f'<text x="{_x(0) - 6}" y="{_y(tick) + 4}" text-anchor="end">{tick:.1f}</text>'
    yield f'<path d="M{_x(0)} {_y(0)}L{_x(1)} {_y(1)}" stroke="#555555" stroke-dasharray="5 4"/>'
    yield f'<text x="{_x(0.5)}" y="{_y(0) + 34}" text-anchor="middle">stated chance of the likeliest cause</text>'
    yield (
        f'<text transform="translate(18 {_y(0.5)}) rotate(-90)" text-anchor="middle">share of jobs where it was right</text>'
    )


def _curve(name: str, some: Calibration, colour: str, y: int) -> Iterable[str]:
    found = points(some)
    line = "L".join(f"{_x(stated)} {_y(observed)}" for stated, observed, _, _ in found)
    yield f'<path d="M{line}" fill="none" stroke="{colour}" stroke-width="1.5"/>'
    for stated, observed, error, jobs in found:
        low, high = _y(max(0.0, observed - 3 * error)), _y(min(1.0, observed + 3 * error))
        yield f'<path d="M{_x(stated)} {low}V{high}" stroke="{colour}"/>'
        yield f'<circle cx="{_x(stated)}" cy="{_y(observed)}" r="4" fill="{colour}"><title>{jobs} jobs</title></circle>'
    yield f'<text x="{LEFT}" y="{y}" fill="{colour}">{escape(name)}: error {some.error:.4f}, {len(some.stated)} jobs</text>'
