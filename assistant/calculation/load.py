"""Wrapped loads: turns, overlap, layers, containment, stability, and what the corners do to the film's speed."""

from __future__ import annotations

import math

from assistant.calculation.worked import Worked, figure, judged
from assistant.domain.calculation import Verdict
from assistant.errors import CalculationError

GRAVITY = 9.80665
ELASTIC, PERMANENT, SHIFT = 10.0, 5.0, 2.0
"""Percent of the height: EUMOS 40509 (2012, revised 2020)."""


def turns(height: float, width: float, overlap: float) -> Worked:
    """ceil((H - W)/pitch) + 1 with pitch = W (1 - overlap); mm, %."""
    pitch = width * (1 - overlap / 100)
    count = 1 if height <= width else math.ceil((height - width) / pitch - 1e-9) + 1
    return Worked(
        figures=(
            figure("turns to cover the height, one way", count, "turns", 6),
            figure("rise of the carriage in a turn", pitch, "mm", 4),
        ),
        notes=("Turns at the bottom and the top, and the way back down, come on top.",),
    )


def carriage_speed(width: float, overlap: float, speed: float) -> Worked:
    """Rise in a turn × table speed; mm, %, r/min -> m/min."""
    pitch = width * (1 - overlap / 100)
    return Worked(
        figures=(figure("carriage speed", pitch * speed / 1000, "m/min"), figure("rise in a turn", pitch, "mm", 4))
    )


def overlap(carriage: float, speed: float, width: float) -> Worked:
    """1 - carriage speed / (table speed × width); m/min, r/min, mm -> %."""
    share = 100 * (1 - carriage * 1000 / speed / width)
    if share < 0:
        return Worked(
            figures=(figure("overlap", share, "%"),),
            verdict=Verdict.STOP,
            why="The film leaves gaps: the carriage is too fast for the table.",
        )
    return Worked(figures=(figure("overlap", share, "%"), figure("rise in a turn", carriage * 1000 / speed, "mm", 4)))


def layers(overlap: float, passes: float) -> Worked:
    """1 / (1 - overlap) for each pass; %."""
    return Worked(figures=(figure("layers", passes / (1 - overlap / 100), "layers"),))


def containment(force: float, layers: float, wanted: float | None) -> Worked:
    """Containment = force of a layer × layers; N."""
    total = force * layers
    figures = (figure("containment force", total, "N"), figure("the same", total / 4.4482216152605, "lbf"))
    return _held(Worked(figures=figures), total, wanted)


def force_per_layer(containment: float, layers: float) -> Worked:
    """Force of a layer = containment / layers; N."""
    return Worked(figures=(figure("force of a layer", containment / layers, "N"),))


def pull_plate(readings: tuple[float, ...], wanted: float) -> Worked:
    """The weakest of the places is the containment of the load; N."""
    weakest = min(readings)
    figures = (
        figure("weakest place", weakest, "N"),
        figure("average", sum(readings) / len(readings), "N"),
        figure("spread", max(readings) - weakest, "N"),
    )
    return _held(Worked(figures=figures), weakest, wanted)


def _held(worked: Worked, value: float, wanted: float | None) -> Worked:
    if wanted is None:
        return worked
    verdict = Verdict.GOOD if value >= wanted else Verdict.ACT if value >= 0.8 * wanted else Verdict.STOP
    why = {
        Verdict.GOOD: "It reaches what is wanted.",
        Verdict.ACT: "It falls a little short.",
        Verdict.STOP: "It falls well short: the load is not safe to send.",
    }[verdict]
    return Worked(figures=worked.figures, verdict=verdict, why=why)


def tilt(angle: float) -> Worked:
    """Share of g = tan(angle): the sideways acceleration that a tilt stands for; ° -> g."""
    share = math.tan(math.radians(angle))
    return Worked(
        figures=(figure("acceleration that it stands for", share, "g"), figure("the same", share * GRAVITY, "m/s²"))
    )


def tipping(width: float, height: float, wanted: float) -> Worked:
    """tan(angle) = half the width / height of the centre of mass; m, share of g."""
    share = width / 2 / height
    verdict = Verdict.GOOD if share >= wanted else Verdict.STOP
    why = (
        "It slides or shears before it tips."
        if verdict is Verdict.GOOD
        else "It tips before that acceleration is reached."
    )
    return Worked(
        figures=(figure("tips at", share, "g"), figure("tilt at which it tips", math.degrees(math.atan(share)), "°")),
        verdict=verdict,
        why=why,
    )


def stability(height: float, permanent: float, elastic: float, shift: float | None) -> Worked:
    """Deformation after and during an acceleration test, as shares of the height; mm -> %."""
    shares = (100 * permanent / height, 100 * elastic / height, 100 * (shift or 0.0) / height)
    limits = (PERMANENT, ELASTIC, SHIFT)
    worst = max(share / limit for share, limit in zip(shares, limits, strict=True))
    verdict = judged(worst, 1.0, 1.5)
    names = ("permanent deformation", "deformation during the test", "shift between layers")
    figures = tuple(figure(name, share, "%") for name, share in zip(names, shares, strict=True))
    why = "The load holds the test." if verdict is Verdict.GOOD else "The load fails the test."
    return Worked(figures=figures if shift is not None else figures[:2], verdict=verdict, why=why)


def acceleration(acceleration: float) -> Worked:
    """Share = a / g; m/s² -> g."""
    share = acceleration / GRAVITY
    figures = (
        figure("acceleration", share, "g"),
        figure("the same", acceleration, "m/s²"),
        figure("tilt that stands for it", math.degrees(math.atan(share)), "°"),
    )
    return Worked(figures=figures)


def corner(length: float, width: float, speed: float) -> Worked:
    """Speed and acceleration of a corner, and how the film's speed swings; m, r/min."""
    omega = 2 * math.pi * speed / 60
    reach = math.hypot(length, width) / 2
    perimeter = 2 * (length + width)
    figures = (
        figure("speed of a corner", omega * reach * 60, "m/min"),
        figure("film taken on average", perimeter * speed, "m/min"),
        figure("acceleration of a corner", omega**2 * reach, "m/s²"),
        figure("the same", omega**2 * reach / GRAVITY, "g"),
        figure("least reach, half the short side", min(length, width) / 2, "m"),
    )
    return Worked(
        figures=figures,
        notes=(
            "The film is taken fastest by the long reach of a corner and slowest at a flat side; the dancer evens it out.",
        ),
    )


def wrap_time(up: float, down: float, bottom: float, top: float, speed: float) -> Worked:
    """Turns / table speed; r/min -> s."""
    whole = up + down + bottom + top
    if whole <= 0:
        raise CalculationError("There are no turns.", "Give the turns up, down, at the bottom and at the top.")
    return Worked(
        figures=(figure("time at speed", whole / speed * 60, "s", 4), figure("turns", whole, "")),
        notes=("Ramps and homing come on top.",),
    )
