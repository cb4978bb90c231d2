import math
from dataclasses import replace

import pytest

from assistant.domain.entries import Asked, Cause, Check, CheckOutcome, FaultModel, Proof, Repair
from assistant.domain.fault_log import (
    Answered,
    ChangeState,
    DoCheck,
    DontKnow,
    ProofFailed,
    ProofPassed,
    ReadingNear,
    Repaired,
)
from assistant.domain.isolation import LADDER, SOMETHING_ELSE
from assistant.domain.terms import Energy, Value
from assistant.errors import IsolationError
from assistant.isolation import (
    Isolator,
    belief,
    compile_model,
    contradiction,
    credit,
    explain,
    ladder_of,
    learned_weights,
    prospect,
    read,
    with_code,
)
from assistant.isolation.contradiction import evidence_chance
from assistant.isolation.learning import ClosedJob, binomial_chance, strange_cells
from assistant.isolation.lookahead import Search
from assistant.isolation.proof import passes_needed, uncured_after
from eval.isolation.tree import expected_minutes, policy_of
from tests.isolation.small_models import public_models, small, unit

P1 = public_models()["P1"].model
WORDS = {"always": 0.98, "usually": 0.85, "rarely": 0.1, "never": 0.02}


def authored(**rest):
    """An eye that sees nothing: three causes, two checks, one of them a reading."""
    causes = [("dirty", 30.0), ("cable", 10.0), ("output", 3.0)]
    lamp = Check(
        id="lamp",
        title="Lamp on the eye",
        energy=Energy.STOPPED,
        also=(Energy.RUNNING,),
        minutes=1.0,
        outcomes=(
            CheckOutcome(says=("dark", "off"), likely={"dirty": "usually", "cable": "always"}),
            CheckOutcome(says=("lit",), normal=True),
        ),
        default="rarely",
    )
    volts = Check(
        id="volts",
        title="Volts at the eye",
        energy=Energy.STOPPED,
        minutes=4.0,
        live=True,
        reading=Asked(unit="V", lowest=0.0, highest=40.0),
        outcomes=(
            CheckOutcome(says=("low",), likely={"cable": "always"}, below="rail"),
            CheckOutcome(says=("right",), normal=True, within="rail"),
            CheckOutcome(says=("high",), likely={"output": "sometimes"}, above="rail"),
        ),
    )
    fields = {
        "id": "eye-blind",
        "title": "The eye sees nothing",
        "hazards": (),
        "source": "scenario",
        "symptom": (),
        "meaning": (),
        "afterwards": (),
        "causes": tuple(Cause(id=n, name=n, weight=w, sign=(), remedy=()) for n, w in causes),
        "checks": (lamp, volts),
        "repairs": (
            Repair(id="clean", title="Clean", minutes=3.0, energy=Energy.STOPPED, cures={"dirty": 0.9}),
            Repair(
                id="cable",
                title="New cable",
                minutes=25.0,
                energy=Energy.ISOLATED,
                cures={"cable": 1.0},
                parts=("p/part/cable",),
            ),
            Repair(id="card", title="New card", minutes=20.0, energy=Energy.UNKNOWN, cures={"output": 1.0}, price=15.0),
        ),
        "proof": Proof(minutes=4.0),
    }
    return FaultModel(**{**fields, **rest})


# --- compilation ---------------------------------------------------------------------------------------------------------------


def test_words_become_numbers_and_the_normal_outcome_takes_what_is_left():
    model = compile_model(authored())
    dark, lit = model.checks[0].likelihood
    assert dark[:3] == pytest.approx((WORDS["usually"], WORDS["always"], WORDS["rarely"]))
    assert lit[:3] == pytest.approx((1 - 0.85, 1 - 0.98, 1 - 0.1))
    assert model.checks[0].outcomes == ("dark", "lit") and model.checks[0].normal == 1


def test_something_else_has_the_mean_row_of_the_named_causes_weighted_by_their_prior():
    dark = compile_model(authored()).checks[0].likelihood[0]
    assert dark[3] == pytest.approx((30 * 0.85 + 10 * 0.98 + 3 * 0.1) / 43)


def test_the_prior_leaves_something_else_its_share_and_learned_weights_replace_it():
    model = compile_model(authored())
    assert model.prior == pytest.approx((0.95 * 30 / 43, 0.95 * 10 / 43, 0.95 * 3 / 43, 0.05))
    learned = compile_model(authored(), weights={"dirty": 2, "cable": 1, "output": 1, SOMETHING_ELSE: 0})
    assert learned.prior == (0.5, 0.25, 0.25, 0.0)
    with pytest.raises(IsolationError):
        compile_model(authored(), weights={"dirty": 2})


def test_states_prices_and_an_unknown_state_are_taken_over():
    model = compile_model(authored())
    assert model.checks[0].states == (Energy.RUNNING, Energy.STOPPED) and model.checks[1].live
    assert model.repairs[2].states == LADDER and model.repairs[2].price == 15.0


def test_a_machine_may_say_how_long_its_changes_of_state_take():
    ladder = ladder_of({"minutes_to_isolate": Value(value=12, unit="min")})
    assert ladder.stopped_isolated == 12.0 and ladder.isolated_stopped == ladder_of({}).isolated_stopped


def test_a_model_without_a_proof_is_refused():
    with pytest.raises(IsolationError, match="no proof"):
        compile_model(authored(proof=None))


def test_a_code_on_the_display_is_evidence_of_no_minutes_that_is_never_offered():
    model = with_code(compile_model(authored()), "2-0-4", {"cable": "always"})
    log = (Answered(check="2-0-4", outcome="shown"),)
    shown = (0.1, 0.98, 0.1, (30 * 0.1 + 10 * 0.98 + 3 * 0.1) / 43)
    weights = [p * cell for p, cell in zip(model.prior, shown, strict=True)]
    assert list(belief(model, log).values()) == pytest.approx([w / sum(weights) for w in weights])
    for said in ((), log):
        offered = [option.action for option in Isolator(model).decide(said, Energy.STOPPED).options]
        assert all(getattr(action, "check", "") != "2-0-4" for action in offered)
    with pytest.raises(IsolationError, match="no cause moon"):
        with_code(model, "2-0-5", {"moon": "always"})


# --- readings ------------------------------------------------------------------------------------------------------------------

RAIL = {"rail": Value(value=24, unit="V", tolerance=2)}


@pytest.mark.parametrize(("figure", "outcome"), [(24.0, "right"), (10.0, "low"), (30.0, "high")])
def test_a_reading_falls_into_its_interval(figure, outcome):
    assert read(authored().checks[1], RAIL, figure, 0.5) == Answered(check="volts", outcome=outcome)


def test_a_reading_near_a_limit_is_shared_by_what_the_meter_could_mean():
    found = read(authored().checks[1], RAIL, 22.0 - 0.25, 0.5)
    assert found == ReadingNear(check="volts", shares=(("low", 0.75), ("right", 0.25)))


def test_an_exact_reading_on_the_limit_is_within():
    assert read(authored().checks[1], RAIL, 22.0, 0.0) == Answered(check="volts", outcome="right")


def test_an_implausible_reading_is_asked_again():
    assert read(authored().checks[1], RAIL, 230.0, 0.5) is None


def test_a_check_without_a_reading_takes_no_figure():
    with pytest.raises(IsolationError, match="no reading"):
        read(authored().checks[0], RAIL, 1.0, 0.0)


def test_a_mixture_weighs_the_two_rows():
    model = compile_model(authored())
    log = (ReadingNear(check="volts", shares=(("low", 3.0), ("right", 1.0))),)
    low, right, _ = model.checks[1].likelihood
    weights = [p * (0.75 * a + 0.25 * b) for p, a, b in zip(model.prior, low, right, strict=True)]
    assert list(belief(model, log).values()) == pytest.approx([w / sum(weights) for w in weights])


# --- contradiction -------------------------------------------------------------------------------------------------------------


def test_the_chance_of_a_slip_is_the_stated_formula():
    log = (Answered(check="input_lamp", outcome="on"), Answered(check="volts_at_switch", outcome="none"))
    found = contradiction(P1, log)
    evidence = evidence_chance(P1, log)
    lamp = evidence_chance(P1, (Answered(check="input_lamp", outcome="off"), log[1])) / evidence
    volts = evidence_chance(P1, (log[0], Answered(check="volts_at_switch", outcome="present"))) / evidence
    odds = [0.03 / 0.97 * ratio for ratio in (lamp, volts)]
    assert found.all_as_stated == pytest.approx(1 / (1 + sum(odds)))
    chances = {suspect.check: suspect.chance for suspect in found.suspects}
    assert chances == pytest.approx(
        {"input_lamp": odds[0] / (1 + sum(odds)), "volts_at_switch": odds[1] / (1 + sum(odds))}
    )
    assert found.strange and found.something_else == pytest.approx(0.4363, abs=1e-6)


def test_one_wrong_answer_among_clear_ones_raises_the_alarm_and_is_named_first():
    rows = [(f"k{i}", 1, ((0.98, 0.02, 0.02), (0.02, 0.98, 0.98))) for i in range(4)]
    model = small((0.5, 0.25, 0.2), rows, [(f"r{i}", 5, unit(i, 3)) for i in range(3)])
    right = tuple(Answered(check=f"k{i}", outcome="o0") for i in range(3))
    assert not contradiction(model, right).alarm
    wrong = contradiction(model, (*right, Answered(check="k3", outcome="o1")))
    assert wrong.alarm and wrong.suspects[0].check == "k3" and wrong.suspects[0].instead == "o0"


def test_nothing_said_contradicts_nothing():
    found = contradiction(P1, (DontKnow(check="input_lamp"),))
    assert found.all_as_stated == 1.0 and found.suspects == () and not found.alarm


# --- proof ---------------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("cure", "anyway"), [(0.5, 0.5), (0.8, 0.3), (0.9, 0.7), (0.97, 0.2)])
def test_the_passes_asked_for_are_the_fewest_that_leave_two_in_a_hundred(cure, anyway):
    many = passes_needed(cure, anyway)
    assert uncured_after(cure, anyway, many) <= 0.02 + 1e-12
    assert many == 1 or uncured_after(cure, anyway, many - 1) > 0.02


def test_what_is_left_after_passes_is_bayes():
    assert uncured_after(0.8, 0.5, 3) == pytest.approx(0.2 * 0.125 / (0.8 + 0.2 * 0.125))
    assert passes_needed(0.8, 0.0) == 1 and passes_needed(0.99, 0.9) == 1


# --- learning ------------------------------------------------------------------------------------------------------------------


def test_weights_are_the_authored_share_of_fifteen_jobs_plus_the_counts():
    jobs = [ClosedJob(shares=(("cable", 1.0),)) for _ in range(5)]
    learned = {weight.cause: weight for weight in learned_weights(P1, jobs)}
    assert learned["cable"].learned == pytest.approx((15 * 0.25 + 5) / (15 + 5)) and learned["cable"].jobs == 5
    assert learned["relay"].learned == pytest.approx(15 * 0.20 / 20)
    assert [w.learned for w in learned_weights(P1, [])] == pytest.approx(P1.prior)


def test_the_credit_of_a_block_is_shared_by_the_posterior():
    log = (Repaired(repair="replace_switch"), Repaired(repair="swap_relay"), ProofPassed())
    assert dict(credit(P1, log).shares) == pytest.approx({"guard_switch": 0.4 / 0.6, "relay": 0.2 / 0.6})


def test_a_job_without_a_proved_repair_counts_for_something_else():
    assert credit(P1, (Repaired(repair="swap_relay"), ProofFailed())).shares == ((SOMETHING_ELSE, 1.0),)


def test_a_cell_that_jobs_speak_against_is_reported_and_one_that_fits_is_not():
    log = (Answered(check="input_lamp", outcome="on"), Answered(check="volts_at_switch", outcome="none"))
    jobs = [ClosedJob(shares=(("cable", 1.0),), log=log) for _ in range(4)]
    strange = strange_cells(P1, jobs)
    assert {(cell.check, cell.cause) for cell in strange} == {("input_lamp", "cable")}
    assert strange[0].seen in (0, 4) and strange[0].jobs == 4
    # all four against a stated .02: .02 to the fourth, the only count as unlikely
    assert strange[0].chance == pytest.approx(0.02**4) == pytest.approx(binomial_chance(4, 4, 0.02))


def test_the_binomial_chance_is_two_sided():
    assert binomial_chance(0, 4, 0.5) == pytest.approx(2 / 16)
    assert binomial_chance(2, 4, 0.5) == 1.0


# --- explanation and prospect --------------------------------------------------------------------------------------------------


def test_the_numbers_of_the_sentence_for_the_lamp():
    decision = Isolator(P1, Search(rows=0)).decide((), Energy.STOPPED)
    why = explain(P1, (), decision)
    off, on = why.outcomes
    assert (
        why.action == DoCheck(check="input_lamp", energy=Energy.STOPPED)
        and why.own_minutes == 1.0
        and why.change is None
    )
    assert off.chance == pytest.approx(0.764) and off.leaves[0].chance == pytest.approx(0.513089, abs=1e-6)
    assert on.leaves[0].cause == "relay" and on.leaves[0].chance == pytest.approx(0.2 * 0.98 / 0.236)
    assert why.telling == "on"
    assert why.saving_minutes == pytest.approx(67.985 - 57.1892675)  # two steps; a third finds more of the exact 12.17
    further = Isolator(P1).decide((), Energy.STOPPED)
    assert why.saving_minutes < further.saving_minutes <= 67.985 - 55.81750475 + 1e-9
    assert off.rules_out == ("relay",)
    assert [chance.cause for chance in why.top] == ["guard_switch", "cable", "relay"]


def test_what_was_ruled_out_names_the_answer_that_did_it():
    log = (Answered(check="volts_at_switch", outcome="present"), Answered(check="input_lamp", outcome="off"))
    why = explain(P1, log, Isolator(P1).decide(log, Energy.STOPPED))
    assert {(gone.cause, gone.by, gone.outcome) for gone in why.ruled_out} == {("relay", "input_lamp", "off")}
    repaired = (Repaired(repair="replace_switch"), ProofFailed())
    why = explain(P1, repaired, Isolator(P1).decide(repaired, Energy.RUNNING))
    assert ("guard_switch", "replace_switch", "") in {(gone.cause, gone.by, gone.outcome) for gone in why.ruled_out}


def test_a_repair_is_explained_by_its_cure_and_by_what_the_next_check_would_cost_and_save():
    log = (Answered(check="input_lamp", outcome="on"), Answered(check="volts_at_switch", outcome="present"))
    why = explain(P1, log, Isolator(P1).decide(log, Energy.STOPPED))
    assert why.cure == pytest.approx(belief(P1, log)["relay"])
    assert isinstance(why.change, ChangeState) and why.change.minutes == 6
    assert isinstance(why.next_check, DoCheck) and why.next_check_costs > why.next_check_saves


def test_a_prospect_is_the_expected_minutes_with_an_interval():
    found = prospect(Isolator(P1), (), Energy.STOPPED, least_chance=0.0)
    exact = expected_minutes(P1, policy_of(Isolator(P1)), Energy.STOPPED)
    assert found.minutes == pytest.approx(exact, abs=1e-9) == pytest.approx(55.81750475)
    assert found.low_minutes < found.minutes < found.high_minutes
    assert found.wanted["input_lamp"] == pytest.approx(1.0)
    assert 0.0 < found.hand_over < 0.1
    short = prospect(Isolator(P1), (), Energy.STOPPED, least_chance=0.01)
    assert math.isclose(short.minutes, exact, rel_tol=0.03)


def test_the_best_model_for_a_search_is_still_pure():
    # nothing is remembered between decisions: asking about another log does not change the first
    isolator = Isolator(replace(P1, id="again"))
    before = isolator.decide((), Energy.STOPPED)
    isolator.decide((Answered(check="input_lamp", outcome="on"),), Energy.ISOLATED)
    assert isolator.decide((), Energy.STOPPED) == before
