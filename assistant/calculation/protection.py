"""Fuses, breakers and overload relays: the right one for a load, what their gates say, why one blew."""

from __future__ import annotations

from assistant.calculation.tables import Table, table
from assistant.calculation.units import rounded
from assistant.calculation.worked import Worked, figure
from assistant.domain.calculation import Source, Standing, Verdict
from assistant.errors import CalculationError

STEADY_SHARE = 0.8
"""Share of its rating that a fuse carries in warm surroundings for long: common practice, no source."""
MARKS = {"F": "F (quick)", "T": "T (slow)"}
HOUR_S = 3600.0


def fuse_size(current: float, load: str, voltage: float, inrush: float | None) -> Worked:
    """Kind and least standard rating of a 5 × 20 mm fuse for a load; A, V -> A."""
    least = current / STEADY_SHARE
    ratings = table("miniature_ratings")
    known = ratings.word("IEC")
    above = [r for r in known if r >= least * (1 - 1e-9)]
    if not above:
        raise CalculationError(
            f"A 5 × 20 mm fuse ends at {known[-1]} A; {rounded(current)} A in steady work needs more.",
            "It wants a larger size of fuse or a breaker.",
        )
    kind = "F" if load == "electronics" else "T"
    breaking = "H (high breaking)" if voltage > 60 else "L (low breaking) or H"
    notes = [f"Kind: {MARKS[kind]}, {breaking}, for at least the circuit's voltage."]
    if inrush is not None:
        notes.append(f"The inrush is {rounded(inrush / above[0])} times that rating; hold it against the gates.")
    return Worked(
        figures=(figure("least standard rating", above[0], "A"), figure("least by the rule", least, "A")),
        verdict=Verdict.ACT,
        why="A fuse that is in a machine is replaced by the rating and kind on its plate, whatever this says.",
        notes=tuple(notes),
        sources=(ratings.cited,),
    )


def gates_of(kind: str, rating: float) -> Table:
    """The gates of a miniature fuse."""
    if kind == "T high breaking":
        if 1 <= rating <= 3.15:
            return table("fuse_t_high_small")
        if 4 <= rating <= 6.3:
            return table("fuse_t_high_large")
        raise CalculationError(
            f"The gates of sheet 5 are kept for 1 to 3.15 A and 4 to 6.3 A, not for {rounded(rating)} A.",
            "Read the maker's sheet.",
        )
    low, high = (0.125, 6.3) if kind == "F low breaking" else (0.125, 10.0)
    if not low <= rating <= high:
        raise CalculationError(
            f"The gates are kept for {low:g} to {high:g} A, not for {rounded(rating)} A.", "Read the maker's sheet."
        )
    return table("fuse_f_low" if kind == "F low breaking" else "fuse_t_low")


def span_at(rows: Table, multiple: float) -> tuple[float, float | None]:
    """Shortest and longest time that the gates leave at a multiple: the gate above is faster, the one below slower.

    Gates are points; between them only this much is sure: not shorter than the least time of the next gate above, not longer
    than the most time of the next gate below.
    """
    gates = sorted((float(k), v[0], v[1]) for k, v in rows.rows.items())
    shortest = max((low for at, low, _ in gates if at >= multiple - 1e-9 and low is not None), default=0.0)
    longest = min((high for at, _, high in gates if at <= multiple + 1e-9 and high is not None), default=None)
    return float(shortest), None if longest is None else float(longest)


def fuse_time(kind: str, rating: float, current: float) -> Worked:
    """What the gates leave sure of the time at a current; A -> s."""
    if kind == "gG":
        return _gg(rating, current)
    rows = gates_of(kind, rating)
    multiple = current / rating
    shortest, longest = span_at(rows, multiple)
    figures = [figure("multiple of its rating", multiple, "times")]
    if multiple <= 1.5 + 1e-9:
        figures.append(figure("holds at least", HOUR_S / 60, "min"))
        return Worked(
            figures=tuple(figures), verdict=Verdict.GOOD, why="It must hold for an hour.", sources=(rows.cited,)
        )
    if shortest:
        figures.append(figure("holds at least", shortest, "s"))
    if longest is not None:
        figures.append(figure("opens within", longest, "s", 4))
        why = "It must open within that time."
    else:
        why = "Between the gates nothing is fixed: it may hold or open."
    return Worked(figures=tuple(figures), verdict=Verdict.ACT, why=why, sources=(rows.cited,))


def _gg(rating: float, current: float) -> Worked:
    """Conventional currents of a gG fuse: carries Inf, opens at If within the conventional time."""
    holds, opens = (1.5, 2.1) if rating <= 4 else (1.5, 1.9) if rating < 16 else (1.25, 1.6)
    hours = 1 if rating <= 63 else 2 if rating <= 160 else 3 if rating <= 400 else 4
    source = Source(
        text="IEC 60269-1 and -2, conventional currents of gG fuses (If confirmed from 4 A, the rest from memory)",
        standing=Standing.FROM_MEMORY,
    )
    figures = (
        figure("multiple of its rating", current / rating, "times"),
        figure(f"carries for {hours} h", holds * rating, "A", 4),
        figure(f"opens within {hours} h at", opens * rating, "A", 4),
    )
    if current <= holds * rating:
        return Worked(figures=figures, verdict=Verdict.GOOD, why="It must carry this.", sources=(source,))
    sure = current >= opens * rating
    why = "It must open within that time." if sure else "Between the two nothing is fixed: it may hold or open."
    return Worked(figures=figures, verdict=Verdict.ACT, why=why, sources=(source,))


def why_blown(rating: float, current: float, kind: str, looks: str | None) -> Worked:
    """What the running current and the looks of a blown fuse speak for; A."""
    multiple = current / rating
    notes: list[str] = []
    if looks == "blackened":
        notes.append("Blackened or silvered glass speaks for a short circuit: the element went off at once.")
    if looks == "gap in the middle":
        notes.append("A clean gap in the middle speaks for an overload or for switching on, over seconds to minutes.")
    if looks == "broken at the end":
        notes.append("A break at the cap speaks for age, heat at the holder or shaking, not for current.")
    hold = 1.25 if kind == "gG" and rating >= 16 else 1.5
    if multiple <= STEADY_SHARE:
        why, verdict = (
            "The running current did not blow it: look for a short that comes and goes, inrush, age or a warm holder.",
            Verdict.ACT,
        )
    elif multiple <= hold:
        why, verdict = "The load runs it too near its rating: it ages, but the gates hold it for an hour.", Verdict.ACT
    elif multiple < 10:
        why, verdict = "It is an overload: the load takes more than the circuit is made for.", Verdict.STOP
    else:
        why, verdict = "It is a short circuit.", Verdict.STOP
    return Worked(
        figures=(figure("running current over rating", multiple, "times"),),
        verdict=verdict,
        why=why,
        notes=tuple(notes),
    )


def breaker_range(rating: float, curve: str) -> Worked:
    """Instantaneous range and conventional currents of a miniature circuit-breaker; A."""
    rows = table("breaker_curves")
    low, high = rows.word(curve)
    hours = 1 if rating <= 63 else 2
    figures = (
        figure("trips at once from", high * rating, "A", 4),
        figure("does not trip at once up to", low * rating, "A", 4),
        figure(f"must not trip within {hours} h at", 1.13 * rating, "A", 4),
        figure(f"must trip within {hours} h at", 1.45 * rating, "A", 4),
    )
    return Worked(figures=figures, sources=(rows.cited,))


def loop_impedance(voltage: float, rating: float, curve: str) -> Worked:
    """Zs = U0 / Ia with the upper end of the instantaneous range; V, A -> Ω."""
    rows = table("breaker_curves")
    trip = rows.word(curve)[1] * rating
    return Worked(
        figures=(figure("most loop impedance", voltage / trip, "Ω"), figure("current for a sure trip", trip, "A", 4)),
        notes=(
            "A measured value is held against a lower one, since a warm cable has more: factors of 0.95 or 0.8 are used.",
        ),
        sources=(rows.cited,),
    )


def relay_time(setting: float, current: float, trip_class: str) -> Worked:
    """What an overload relay must do at a multiple of its setting; A."""
    multiple = current / setting
    figures = (figure("multiple of the setting", multiple, "times"),)
    rows = table("relay_classes")
    if multiple <= 1.05:
        return Worked(figures=figures, verdict=Verdict.GOOD, why="It must not trip within two hours (cold, balanced).")
    if abs(multiple - 7.2) < 0.05:
        low, high = rows.word(trip_class)
        more = (figure("trips after at least", low, "s"), figure("and within", high, "s"))
        return Worked(figures=figures + more, why="A stalled motor is cut off in that time.", sources=(rows.cited,))
    if multiple >= 1.5:
        minutes = {"10A": 2, "10": 4, "20": 8}[trip_class]
        why = f"Warm, at 1.5 times, it trips within {minutes} min, and sooner above."
        return Worked(figures=figures, verdict=Verdict.STOP, why=why)
    if multiple >= 1.2:
        return Worked(figures=figures, verdict=Verdict.STOP, why="It must trip within two hours.")
    return Worked(
        figures=figures, verdict=Verdict.ACT, why="Between 1.05 and 1.2 times nothing is fixed: it may trip or hold."
    )
