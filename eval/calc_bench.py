"""Every calculator's own example, warm, from typed text to the answer of the rules -> one row beside its bar."""

from __future__ import annotations

from assistant.assembly import clock_ms
from assistant.calc_cli import inputs, pairs_of
from assistant.calculation.knowing import Known
from assistant.calculation.registry import calculators
from assistant.calculation.running import calculate
from assistant.corpus.reader import read_knowledge
from assistant.domain.turn import State
from assistant.domain.utterance import Utterance
from assistant.rules.verdict import Case, Rules
from assistant.settings import Settings
from eval.measures import percentile

BAR_MS = 5.0
ROUNDS = 5


def calc_times(settings: Settings) -> tuple[float, ...]:
    """Milliseconds of each calculation, every calculator `ROUNDS` times, after one round that warms up."""
    knowledge = read_knowledge(settings.knowledge)
    rules, known = Rules(knowledge), Known(knowledge)
    times: list[float] = []
    for round_ in range(ROUNDS + 1):
        for calculator in calculators().values():
            started = clock_ms()
            given = inputs(calculator, pairs_of(calculator.example), known, None)
            case = Case(utterance=Utterance(text=calculator.example), state=State())
            rules.calculated(case, calculate(calculator, given), calculator.hazards)
            if round_:
                times.append(clock_ms() - started)
    return tuple(times)


def calc_row(settings: Settings) -> None:
    """Print the row."""
    times = calc_times(settings)
    middle, late = percentile(times, 0.5), percentile(times, 0.95)
    name = f"calculation, {len(calculators())} calculators, median"
    print(f"  {name:<44} {middle:8.2f} ms   bar {BAR_MS:g} ms   (p95 {late:.2f} ms)")
