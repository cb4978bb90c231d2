from dataclasses import replace

import pytest

from assistant.domain.draft import Draft
from assistant.domain.terms import Energy
from assistant.domain.turn import Conversation
from assistant.rules import phrases
from assistant.rules.energy_state import confirm, declared, next_item, speaks_of_power, steps_allowed


@pytest.mark.parametrize(
    "text",
    [
        "power is back on",
        "I switched it on",
        "ok, the supply is on again",
        "we have turned the machine back on",
        "my lock is off",
    ],
)
def test_power_back_is_heard(text):
    assert declared(text) is Energy.RUNNING and speaks_of_power(text)


@pytest.mark.parametrize(
    "text",
    [
        "is the power back on?",
        "why is the display dark with the power on",
        "how do I know the supply is on",
        "the film is on",
    ],
)
def test_questions_declare_nothing(text):
    assert declared(text) is None


@pytest.mark.parametrize(
    "text", ["isolated", "the machine is isolated", "it is locked off and proved dead", "locked out"]
)
def test_isolation_is_heard(text):
    assert declared(text) is Energy.ISOLATED


def test_power_in_the_middle_of_a_story_is_enough_to_void():
    assert speaks_of_power("the table is loose. the power is back on. what now?")
    assert not speaks_of_power("can I do it while the power is on?")


def test_isolation_needs_every_item_and_each_by_itself(knowledge):
    conversation = Conversation(pending=next_item(knowledge.energy, (), None))
    for count in range(len(knowledge.energy.isolation_items)):
        assert conversation.state.energy is Energy.UNKNOWN
        assert len(conversation.confirmed) == count
        conversation = confirm(knowledge.energy, conversation)
    assert conversation.state.energy is Energy.ISOLATED and conversation.pending is None


def test_a_yes_to_another_question_confirms_nothing(knowledge):
    first = next_item(knowledge.energy, (), None)
    stale = Conversation(pending=None)
    assert confirm(knowledge.energy, stale).confirmed == ()
    assert first is not None


def test_a_procedure_is_told_whole_or_not_at_all(knowledge, rules):
    for procedure in knowledge.procedures:
        instructions = [step.do for step in (*procedure.steps, *procedure.prove)]
        for energy in Energy:
            body = rules._bodies.build(procedure, Draft(sentences=()), energy)
            told = [line.text for line in body.lines if line.text in instructions]
            if steps_allowed(procedure, energy):
                assert told == instructions, procedure.full_id
            else:
                assert told == [] and phrases.WITHHELD in [line.text for line in body.lines]


def test_isolated_work_is_withheld_in_every_other_state(knowledge):
    isolated = [p for p in knowledge.procedures if p.energy is Energy.ISOLATED]
    assert len(isolated) > 5
    for procedure in isolated:
        assert [steps_allowed(procedure, e) for e in Energy] == [False, False, False, True]


def test_checks_that_need_isolation_are_named_but_not_told(knowledge, rules):
    for fault in knowledge.faults:
        closed = [c for c in fault.checks if c.energy is Energy.ISOLATED]
        lines = [line.text for line in rules._bodies.build(fault, Draft(sentences=()), Energy.UNKNOWN).lines]
        for check in closed:
            assert not any(
                text in lines for text in check.do if not any(text in o.do for o in fault.checks if o is not check)
            )
        if any(c.live for c in fault.checks):
            assert knowledge.energy.live.who[0] in lines


@pytest.mark.parametrize("pack", ["drumlin", "skerry"])
def test_a_machine_asks_its_own_items_in_their_order(knowledge, pack):
    conversation = Conversation(scope=pack, pending=next_item(knowledge.energy, (), pack))
    asked = []
    while conversation.pending is not None:
        asked.append(conversation.pending.text)
        conversation = confirm(knowledge.energy, conversation)
    assert conversation.state.energy is Energy.ISOLATED and conversation.isolated == pack
    assert (
        asked
        == [item.ask for item in knowledge.energy.items(pack)]
        != [item.ask for item in knowledge.energy.isolation_items]
    )
    assert ("carriage" in " ".join(asked)) is (pack == "drumlin")
    assert ("10 min" in " ".join(asked)) is (pack == "drumlin")


def test_a_machine_without_items_of_its_own_asks_the_common_ones(knowledge):
    for pack in (None, "unheard-of"):
        assert knowledge.energy.items(pack) == knowledge.energy.isolation_items


def test_an_isolation_begun_for_another_machine_begins_again(knowledge):
    """Half the items of one machine say nothing of the other, however alike the questions are."""
    half = Conversation(scope="skerry", pending=next_item(knowledge.energy, (), "skerry"))
    for _ in range(2):
        half = confirm(knowledge.energy, half)
    assert half.pending == next_item(knowledge.energy, half.confirmed, "drumlin"), (
        "the question due is the same in both"
    )
    changed = confirm(knowledge.energy, replace(half, scope="drumlin"))
    assert changed.confirmed == () and changed.state.energy is not Energy.ISOLATED
    assert changed.pending == next_item(knowledge.energy, (), "drumlin")
