from dataclasses import replace

import pytest

from assistant.domain.fault_log import Answered
from assistant.domain.terms import Energy
from assistant.isolation import Complaint, Isolator, prepare
from tests.isolation.small_models import public_models, small, unit

P1 = public_models()["P1"].model


def with_parts(**parts):
    return replace(P1, repairs=tuple(replace(r, parts=parts.get(r.id, ())) for r in P1.repairs))


MODEL = with_parts(replace_switch=("switch",), new_cable=("cable",), swap_relay=("relay",))


def prepared(model=MODEL, log=(), **rest):
    return prepare([Complaint(isolator=Isolator(model), chance=1.0, log=log)], **rest)


def test_the_parts_brought_reach_the_target_and_say_what_each_would_cost_left_behind():
    found = prepared(target=0.9)
    # .4 + .25 * .95 + .2 + .1 * .95 with all; the relay alone is worth .2
    assert found.chance_with_all == pytest.approx(0.4 + 0.25 * 0.95 + 0.2 + 0.1 * 0.95)
    assert {item.name for item in found.bring} == {"switch", "cable", "relay"}
    assert {item.name: item.finish_lost for item in found.bring} == pytest.approx(
        {"switch": 0.4, "cable": 0.25 * 0.95, "relay": 0.2}
    )


def test_the_lightest_set_that_reaches_a_lower_target_is_brought():
    # without parts .095; target .5 needs .405 more: switch and one other; the relay is lighter than the cable
    found = prepared(target=0.5, burdens={"switch": 2.0, "cable": 5.0, "relay": 1.0})
    assert [item.name for item in found.bring] == ["relay", "switch"]
    assert found.chance == pytest.approx(0.4 + 0.2 + 0.1 * 0.95) and found.chance >= 0.5
    assert [(item.name, pytest.approx(0.25 * 0.95)) for item in found.leave] == [
        (i.name, i.finish_lost) for i in found.leave
    ]


def test_what_a_heavier_first_pick_makes_needless_goes_out_again():
    # "small" is picked first by rate, then "both" is needed to reach the target and covers it
    model = small((0.45, 0.5), [], [("a", 5, (1, 0)), ("both", 30, (1, 1))], hand_over=300.0)
    first, second = model.repairs
    model = replace(model, repairs=(replace(first, parts=("light",)), replace(second, parts=("heavy",))))
    found = prepared(model, target=0.9, burdens={"light": 1.0, "heavy": 10.0})
    assert [item.name for item in found.bring] == ["heavy"]


def test_an_answer_on_the_telephone_changes_what_is_brought():
    said = (Answered(check="input_lamp", outcome="on"), Answered(check="volts_at_switch", outcome="present"))
    assert [item.name for item in prepared(log=said, target=0.8).bring] == ["relay"]


def test_two_complaints_weigh_by_their_chances():
    other = small((0.95,), [], [("x", 5, unit(0, 1))], hand_over=300.0)
    other = replace(other, repairs=(replace(other.repairs[0], parts=("thing",)),))
    both = [Complaint(isolator=Isolator(MODEL), chance=1.0), Complaint(isolator=Isolator(other), chance=3.0)]
    found = prepare(both, target=0.7)
    assert [item.name for item in found.bring] == ["thing"]
    assert found.chance == pytest.approx(0.25 * 0.1 * 0.95 + 0.75 * 0.95)


def test_the_meter_of_a_check_that_will_be_wanted_comes_along():
    checks = tuple(replace(c, tools=("meter",) if c.id == "volts_at_switch" else ("mirror",)) for c in MODEL.checks)
    found = prepared(replace(MODEL, checks=checks), target=0.5)
    wanted = {item.name: item.wanted for item in (*found.bring, *found.leave)}
    assert wanted["mirror"] == pytest.approx(1.0) and "mirror" in [item.name for item in found.bring]
    assert 0.3 < wanted["meter"] <= 1.0 and "meter" in [item.name for item in found.bring]


def test_the_caller_is_asked_what_needs_no_tool_and_tells_most():
    found = prepared()
    assert [q.check for q in found.questions] == ["input_lamp", "volts_at_switch"]  # tug_terminals is done isolated
    assert found.questions[0].bits == pytest.approx(0.603956, abs=1e-6)
    live = replace(MODEL, checks=tuple(replace(c, live=c.id == "volts_at_switch") for c in MODEL.checks))
    assert [q.check for q in prepared(live).questions] == ["input_lamp"]


def test_the_minutes_come_with_an_interval():
    found = prepared(energy=Energy.STOPPED, least_chance=0.0)
    assert found.low_minutes < found.minutes < found.high_minutes
    assert found.minutes == pytest.approx(55.81750475)


def test_no_complaint_is_an_error_of_the_caller():
    with pytest.raises(ValueError, match="one complaint"):
        prepare([])
