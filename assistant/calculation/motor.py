"""Motors: currents by table and by formula, protection, speed, slip, torque, and what a drive makes of them."""

from __future__ import annotations

import math

from assistant.calculation.tables import Table, table
from assistant.calculation.units import rounded
from assistant.calculation.worked import Worked, figure, judged
from assistant.domain.calculation import Source, Standing, Verdict
from assistant.errors import CalculationError

KW_PER_HP = 0.7456998715822702
TRADE_SLACK = 0.02
"""Share by which a kilowatt size and its trade twin in hp differ (0.55 kW and 3/4 hp, 1.5 kW and 2 hp): common practice."""
RANGES = {115: (110, 120), 200: (199, 201), 208: (207, 209), 230: (220, 240), 460: (440, 480), 575: (550, 600)}
"""System voltages for which a column of the table stands (its own headnote)."""
NEARLY_RATED = 1.05
"""Share of the plate current up to which a meter and a plate are taken to agree: common practice, no source."""


def table_current(power: float, voltage: float, phases: float) -> Worked:
    """Full-load current of the code's table; power in hp, voltage in V, phases 1 or 3."""
    rows = table("single_phase_current" if _phases(phases) == 1 else "three_phase_current")
    key, row = rows.row(power, TRADE_SLACK)
    column = next((v for v, (low, high) in RANGES.items() if low <= voltage <= high and str(v) in _named(row)), None)
    if column is None:
        columns = ", ".join(_named(row))
        raise CalculationError(
            f"{rows.title} has no column for {rounded(voltage)} V at {rounded(key)} hp.",
            f"It has {columns} V. For another voltage use `motor-current`.",
        )
    size = f"Taken as the {rounded(key)} hp row and the {column} V column."
    note = "A table value sizes conductors and short-circuit protection; the overload is set by the plate."
    amps = float(_named(row)[str(column)])
    return Worked(figures=(figure("full-load current", amps, "A"),), notes=(size, note), sources=(rows.cited,))


def _named(row: dict[object, float]) -> dict[str, float]:
    return {str(key): value for key, value in row.items()}


def _phases(phases: float) -> int:
    if phases not in (1, 3):
        raise CalculationError(f"A supply has 1 or 3 phases, not {phases:g}.", "Write phases=1 or phases=3.")
    return int(phases)


def full_load_current(
    power: float, voltage: float, phases: float, power_factor: float, efficiency: float | None
) -> Worked:
    """I = P / (√3 V cos φ η), without √3 on one phase; kW, V, share, share in % -> A."""
    notes: tuple[str, ...] = ()
    sources: tuple[Source, ...] = ()
    if efficiency is None:
        rows = table("nominal_efficiency")
        _, efficiency = rows.row(power)
        notes, sources = (f"Efficiency {rounded(efficiency)} % is the nominal value of the table.",), (rows.cited,)
    root = math.sqrt(3) if _phases(phases) == 3 else 1.0
    amps = power * 1000 / (root * voltage * power_factor * efficiency / 100)
    return Worked(
        figures=(figure("current at full load", amps, "A"), figure("power taken in", power / efficiency * 100, "kW")),
        notes=(*notes, "The plate's own current comes first wherever it can be read."),
        sources=sources,
    )


def input_power(voltage: float, current: float, power_factor: float, phases: float) -> Worked:
    """P = √3 V I cos φ, without √3 on one phase; V, A -> kW."""
    root = math.sqrt(3) if _phases(phases) == 3 else 1.0
    watts = root * voltage * current * power_factor
    return Worked(figures=(figure("power taken in", watts / 1000, "kW", 4),))


def measured_current(current: float, rated: float, no_load: float | None) -> Worked:
    """Measured against the plate: share of the plate current, and the load that it speaks for; A -> %."""
    share = 100 * current / rated
    figures = [figure("share of the plate current", share, "%")]
    if no_load is not None:
        if no_load >= rated:
            raise CalculationError(
                "The no-load current is not below the plate current.", "Check which figure is which."
            )
        squares = (current**2 - no_load**2) / (rated**2 - no_load**2)
        figures.append(figure("load, roughly", 100 * math.sqrt(max(0.0, squares)), "%", 2))
    verdict = judged(current / rated, 1.0, NEARLY_RATED)
    why = {
        Verdict.GOOD: "The motor takes no more than its plate.",
        Verdict.ACT: "It is at or just above its plate, within what a meter can tell.",
        Verdict.STOP: "It takes more than its plate allows for long.",
    }[verdict]
    return Worked(figures=tuple(figures), verdict=verdict, why=why)


def protection(current: float, device: str, motor: str) -> Worked:
    """Most rating of a short-circuit device for a motor, next standard size up; A of the table -> A."""
    rows = table("protective_devices")
    percent = float(rows.word(motor)[device])
    limit = current * percent / 100
    figures = [figure("most by the table", limit, "A", 4), figure("share of full-load current", percent, "%", 4)]
    if device != "instantaneous breaker":
        ratings = table("standard_ratings")
        standard = _next_up(ratings, "fuse" if "fuse" in device else "breaker", limit)
        figures.insert(0, figure("next standard rating", standard, "A"))
    cited = (rows.cited, table("standard_ratings").cited)
    return Worked(figures=tuple(figures), sources=cited)


def _next_up(ratings: Table, kind: str, least: float) -> float:
    known = ratings.word(kind)
    above = [float(r) for r in known if r >= least - 1e-9]
    if not above:
        raise CalculationError(
            f"{ratings.title} is kept up to {known[-1]} A here.", "Read the code's own list above it."
        )
    return min(above)


def conductor(current: float, temperature: str) -> Worked:
    """125 % of the table current, and the smallest listed copper conductor that carries it; A -> A, AWG."""
    least = 1.25 * current
    rows = table("copper_ampacity")
    column = int(temperature.split()[0])
    fits = [size for size, amps in rows.rows.items() if _named(amps)[str(column)] >= least]
    if not fits:
        raise CalculationError(
            f"No listed conductor carries {rounded(least)} A.", "The rows kept here go from 14 to 10 AWG."
        )
    size = max(fits, key=int)
    return Worked(
        figures=(figure("ampacity, at least", least, "A", 4), figure("copper conductor", float(size), "AWG")),
        notes=("Ambient heat, bundling and the terminals' own limit come on top.",),
        sources=(rows.cited,),
    )


def overload(current: float, service_factor: float) -> Worked:
    """Overload setting of 430.32 from the plate current and the service factor; A -> A."""
    percent, most = (125, 140) if service_factor >= 1.15 else (115, 130)
    source = Source(
        text=f"NFPA 70 (NEC) 2023, 430.32(C), ceiling {most} %",
        standing=Standing.CONFIRMED if most == 140 else Standing.FROM_MEMORY,
    )
    return Worked(
        figures=(
            figure("most to set", current * percent / 100, "A", 4),
            figure("ceiling if it will not start", current * most / 100, "A", 4),
            figure("where an IEC relay is set", current, "A", 4),
        ),
        notes=("An IEC relay already carries its margin inside: its dial is set to the plate current.",),
        sources=(source,),
    )


def locked_rotor(power: float, voltage: float, letter: str) -> Worked:
    """Locked-rotor current from the code letter; hp, V, three phases -> A."""
    rows = table("code_letters")
    low, high = rows.word(letter)
    amps = [kva * power * 1000 / (math.sqrt(3) * voltage) for kva in (low, high)]
    return Worked(
        figures=(figure("locked-rotor current from", amps[0], "A"), figure("up to", amps[1], "A")),
        sources=(rows.cited,),
    )


def inrush(current: float, multiple: float) -> Worked:
    """Starting current as a multiple of the plate current; A -> A."""
    return Worked(
        figures=(
            figure("starting current", current * multiple, "A"),
            figure("peak with the first half wave, at most", 2 * math.sqrt(2) * current * multiple, "A"),
        ),
        notes=("A drive keeps the starting current near its own limit; this is for a motor switched straight on.",),
    )


def synchronous(frequency: float, poles: float) -> Worked:
    """Speed = 120 f / p; Hz -> r/min."""
    return Worked(figures=(figure("synchronous speed", 120 * frequency / _poles(poles), "r/min", 6),))


def _poles(poles: float) -> float:
    if poles % 2:
        raise CalculationError(f"A motor has an even number of poles, not {poles:g}.", "Read poles, not pole pairs.")
    return poles


def slip(frequency: float, poles: float, speed: float) -> Worked:
    """Slip = (ns - n) / ns; Hz, r/min -> %."""
    no_slip = 120 * frequency / _poles(poles)
    share = 100 * (no_slip - speed) / no_slip
    if share < 0:
        raise CalculationError(
            f"{rounded(speed, 5)} r/min is above the synchronous {rounded(no_slip, 5)} r/min.",
            "A motor that drives runs below it: check poles and frequency.",
        )
    return Worked(figures=(figure("slip", share, "%"), figure("synchronous speed", no_slip, "r/min", 6)))


def shaft_torque(power: float, speed: float) -> Worked:
    """T = P / ω; kW, r/min -> N·m."""
    newton_metres = power * 1000 / (2 * math.pi * speed / 60)
    return Worked(
        figures=(
            figure("torque", newton_metres, "N·m"),
            figure("the same", newton_metres / 1.3558179483314004, "lb·ft"),
        )
    )


def drive_speed(frequency: float, base_frequency: float, base_speed: float, voltage: float | None) -> Worked:
    """Speed, voltage and torque at a drive frequency: V/f constant below base, weaker field above; Hz, r/min, V."""
    ratio = frequency / base_frequency
    figures = [figure("speed, slip kept as a share", base_speed * ratio, "r/min", 4)]
    if voltage is not None:
        figures.append(figure("voltage, before boost", voltage * min(1.0, ratio), "V"))
    if ratio > 1:
        figures += [figure("rated torque left", 100 / ratio, "%"), figure("breakdown torque left", 100 / ratio**2, "%")]
        return Worked(
            figures=tuple(figures), verdict=Verdict.ACT, why="Above base frequency the field weakens and torque falls."
        )
    return Worked(figures=tuple(figures), why="Up to base frequency the rated torque stays, as far as cooling does.")


def drive_ceiling(winding: float, base_frequency: float, supply: float) -> Worked:
    """Frequency up to which V/f stays constant with a winding for less than the supply; V, Hz, V -> Hz."""
    if supply < winding:
        raise CalculationError(
            "The supply is below the winding voltage, so there is no range above base frequency.",
            "Check winding (the voltage of the delta connection) and supply.",
        )
    ratio = supply / winding
    return Worked(
        figures=(
            figure("voltage ceiling reached at", base_frequency * ratio, "Hz"),
            figure("power, at most times", ratio, ""),
        ),
        notes=("The drive must give that many times the delta current, and motor and gear must stand the speed.",),
    )
