"""Work that is left in the middle -> what of it is still to be done: steps, and repairs that no proof has followed."""

from __future__ import annotations

from assistant.domain.entries import FaultModel, Procedure
from assistant.domain.fault_log import Log, ProofFailed, ProofPassed, Repaired
from assistant.domain.terms import Energy
from assistant.rules import phrases
from assistant.rules.guide_pages import energy_of, steps_of


def not_finished(procedure: Procedure, at: int, energy: Energy) -> tuple[tuple[str, tuple[str, ...]], ...]:
    """The steps from that place on, each part under its heading: the work, then what gives the machine back and proves it."""
    rest = list(enumerate(steps_of(procedure)))[at:]
    works = len(procedure.steps)
    dead = energy is Energy.ISOLATED
    if dead:  # the first step that is not done dead gives the supply back
        works = min(works, next((i for i, s in rest if energy_of(procedure, s) is not Energy.ISOLATED), works))
    first = tuple(step.do for i, step in rest if i < works)
    then = tuple(step.do for i, step in rest if i >= works)
    heading = phrases.NOT_FINISHED if dead else phrases.NOT_FINISHED_LIVE
    return tuple((head, texts) for head, texts in ((heading, first), (phrases.NOT_PROVED, then)) if texts)


def unproved(fault: FaultModel, log: Log) -> tuple[str, ...]:
    """Titles of the repairs since the last proof."""
    since = 0
    for place, event in enumerate(log, start=1):
        since = place if isinstance(event, ProofPassed | ProofFailed) else since
    done = dict.fromkeys(event.repair for event in log[since:] if isinstance(event, Repaired))
    titles = {repair.id: repair.title for repair in fault.repairs}
    return tuple(titles[name] for name in done)
