"""The fault models of the packs, as they are: looking must be cheaper than handing over at once."""

from assistant.domain.fault_log import HandOver
from assistant.domain.isolation import EnergyLadder
from assistant.domain.terms import Energy
from assistant.isolation import Isolator, compile_model, ladder_of


def test_no_authored_model_begins_by_handing_over(knowledge):
    ladders = {machine.pack: ladder_of(machine.values) for machine in knowledge.machines}
    at_once = [
        fault.full_id
        for fault in knowledge.faults
        if isinstance(
            Isolator(compile_model(fault, ladders.get(fault.pack, EnergyLadder()))).decide((), Energy.STOPPED).action,
            HandOver,
        )
    ]
    assert at_once == []
