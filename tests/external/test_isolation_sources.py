"""Published examples of troubleshooting, test sequencing and diagnosis against the engine.

Beside each check stands its source. "Tables from memory" and the like say what was not looked up again; figures without a
published value were worked out by an exact solver (tests/isolation/exact_solver.py) and say so.
"""

import itertools
import math
from dataclasses import replace

import numpy as np
import pytest

from assistant.domain.fault_log import Answered, DoCheck, DoRepair, HandOver
from assistant.domain.isolation import SOMETHING_ELSE, IsolationCheck, IsolationModel
from assistant.domain.terms import Energy
from assistant.isolation import Isolator, belief
from assistant.isolation.contradiction import evidence_chance
from assistant.isolation.lookahead import Search, entropy
from eval.isolation.orders import information_gain, most_likely_first, printed_table
from eval.isolation.tree import expected_minutes, policy_of
from tests.isolation.exact_solver import as_fraction, solve
from tests.isolation.small_models import FREE, binary, public_models, small, unit

RUNNING = Energy.RUNNING
PUBLIC = public_models()
IDENTIFY = 1000.0
"""Minutes of every repair where only the checks count: dear enough that the cause is always found first."""


def ours(model, energy=RUNNING, search=None):
    return expected_minutes(model, policy_of(Isolator(model, search or Search())), energy)


def first_ties(model, energy=RUNNING):
    return {
        getattr(action, "check", getattr(action, "repair", "")) for action in Isolator(model).decide((), energy).ties
    }


def singles(costs):
    return [(f"a{i + 1}", cost, unit(i, len(costs))) for i, cost in enumerate(costs)]


def definitive(costs):
    return [(f"t{i + 1}", cost, binary(*unit(i, len(costs)))) for i, cost in enumerate(costs)]


def identification(prior, tests, costs):
    """Find which state is present: columns of `tests` are binary tests, rows states."""
    checks = [(f"t{j + 1}", costs[j], binary(*(int(row[j]) for row in tests))) for j in range(len(costs))]
    return small(prior, checks, singles([IDENTIFY] * len(prior)), hand_over=1e6)


# --- Simon and Kadane 1975, Kadane and Simon 1977: independent actions by falling p over c are optimal -----------------------


def test_independent_actions_go_by_falling_chance_over_cost():
    # the theorem as quoted in abstracts of Ottosen and Jensen; the example's figures from an exact solver over all 24 orders
    p, c = (0.45, 0.25, 0.20, 0.10), (9, 2, 4, 1)
    model = small(p, repairs=singles(c))
    best = min(order_cost(p, c, order) for order in itertools.permutations(range(4)))
    assert best == pytest.approx(2 + 0.75 * 1 + 0.65 * 9 + 0.20 * 4) == pytest.approx(9.4)
    assert ours(model) == pytest.approx(9.4, abs=1e-9)
    assert first_ties(model) == {"a2"}
    assert expected_minutes(model, most_likely_first(model), RUNNING) == pytest.approx(11.4, abs=1e-9)


def order_cost(p, c, order):
    left, cost = 1.0, 0.0
    for i in order:
        cost += left * c[i]
        left -= p[i]
    return cost


# --- Kalagnanam and Henrion 1988: definitive tests of single components, smallest c over p first ------------------------------


def test_definitive_tests_without_elimination_cost_what_the_rule_says():
    # example of the rule, figures from an exact solver; all components tested until one is found
    p, c = (0.4, 0.3, 0.2, 0.1), (10, 2, 5, 1)
    assert ours(small(p, repairs=singles(c))) == pytest.approx(2 + 0.7 * 1 + 0.6 * 10 + 0.2 * 5, abs=1e-9)


def test_by_elimination_the_last_component_is_not_tested():
    # the same example; the cause that is left is repaired untested: 2 + .7 * 1 + .6 * 5
    model = small((0.4, 0.3, 0.2, 0.1), definitive((10, 2, 5, 1)), singles([100] * 4))
    assert ours(model) == pytest.approx(100 + 5.7, abs=1e-9)
    assert first_ties(model) == {"t2"}


# --- Heckerman, Breese and Rommelse 1995: observe, repair, look one step ahead (formulas from memory) -------------------------


def test_observation_and_repair_costs_follow_the_cost_of_repair_formula():
    p, observe, mend = (0.4, 0.3, 0.2, 0.1), (10, 2, 5, 1), (20, 15, 30, 5)
    formula = order_cost(p, observe, (1, 3, 0, 2)) + sum(a * b for a, b in zip(p, mend, strict=True))
    assert formula == pytest.approx(28.7)
    model = small(p, definitive(observe), singles(mend))
    assert ours(model) == pytest.approx(24.7, abs=1e-9)  # by elimination, order 2, 4, 3, 1
    assert first_ties(model) == {"t2"}


def test_one_and_two_step_values_of_the_switch_model():
    # worked out in rational arithmetic
    case = PUBLIC["P1"]
    one = {o.action: o.minutes_left for o in Isolator(case.model, Search(depth=1)).decide((), case.energy).options}
    two = {o.action: o.minutes_left for o in Isolator(case.model, Search(rows=0)).decide((), case.energy).options}
    lamp, volts = (DoCheck(check=name, energy=Energy.STOPPED) for name in ("input_lamp", "volts_at_switch"))
    tug = DoCheck(check="tug_terminals", energy=Energy.ISOLATED)
    assert [one[a] for a in (lamp, volts, tug)] == pytest.approx([58.8443, 64.251375, 67.66625], abs=1e-6)
    assert [two[a] for a in (lamp, volts)] == pytest.approx([57.1892675, 57.6842575], abs=1e-6)


# --- Jensen, Kjaerulff, Kristiansen and others 2001: where greedy orders fail (the paper from memory) --------------------------


def test_overlapping_repairs_need_the_second_step():
    repairs = [("a1", 5, (1, 0, 1, 0)), ("a2", 6, (1, 1, 0, 0)), ("a3", 8, (1, 1, 1, 0)), ("a4", 4, (0, 0, 1, 1))]
    model = small((0.35, 0.30, 0.20, 0.15), repairs=repairs)
    assert ours(model, search=Search(depth=0)) == pytest.approx(8.3, abs=1e-9)  # greedy with updating: a1, a2, a4
    assert ours(model) == pytest.approx(6 + (1 - 0.65) * 4, abs=1e-9)  # a2, a4
    assert first_ties(model) == {"a2"}


# --- Ottosen and Jensen 2010-2012: cost clusters, postponed system test -------------------------------------------------------


def test_two_quick_repairs_share_one_isolation_and_one_proof():
    case = PUBLIC["P2"]
    by_hand = 8 + 2 + 3 + 7 + 5 + 0.2 * (9 + 25 + 7 + 5) + 0.05 * 120
    assert ours(case.model, case.energy) == pytest.approx(by_hand, abs=1e-9) == pytest.approx(40.2)
    assert ours(case.model, case.energy, Search(block=1)) == pytest.approx(49.2, abs=1e-9)


# --- Pattipati and Alexandridis 1990: test sequencing (data and 2.18 from memory) ---------------------------------------------

SEQUENCING = ((0.70, 0.01, 0.02, 0.10, 0.05, 0.12), ("00000", "01001", "00110", "10011", "11000", "11110"))


def test_the_classic_sequencing_example_needs_2_18_tests():
    model = identification(*SEQUENCING, (1, 1, 1, 1, 1))
    assert solve(model, RUNNING)[0] == pytest.approx(IDENTIFY + 2.18, abs=1e-6)
    assert ours(model) == pytest.approx(IDENTIFY + 2.18, abs=1e-6)
    assert "t2" in first_ties(model)
    assert expected_minutes(model, information_gain(model, 1.0), RUNNING) == pytest.approx(IDENTIFY + 2.86, abs=1e-6)
    assert float(entropy(np.array([SEQUENCING[0]]))[0]) == pytest.approx(1.454873, abs=1e-6)


def test_the_same_example_with_costs():
    model = identification(*SEQUENCING, (3, 1, 2, 1, 4))
    assert ours(model) == pytest.approx(IDENTIFY + 2.42, abs=1e-6)
    assert expected_minutes(model, information_gain(model, 1.0), RUNNING) == pytest.approx(IDENTIFY + 2.42, abs=1e-6)


# --- Ruan, Tu, Pattipati and Patterson-Hine 2004: tests that belong to modes --------------------------------------------------


def test_a_policy_blind_to_the_modes_pays_eight_minutes():
    case = PUBLIC["P3"]
    assert ours(case.model, case.energy) == pytest.approx(48.95, abs=1e-9)
    blind = policy_of(Isolator(replace(case.model, ladder=FREE)))
    assert expected_minutes(case.model, blind, case.energy) == pytest.approx(56.95, abs=1e-9)


# --- Garey 1972: optimal binary identification (source from memory, figures from an exact solver) ------------------------------


def test_with_every_split_at_hand_the_tree_is_huffmans():
    splits = [[0, *some] for some in itertools.product((0, 1), repeat=4) if any(some)]
    rows = ["".join(str(split[state]) for split in splits) for state in range(5)]
    assert ours(identification((0.4, 0.2, 0.2, 0.1, 0.1), rows, (1,) * 15)) == pytest.approx(IDENTIFY + 2.2, abs=1e-6)


@pytest.mark.parametrize(
    ("prior", "least", "spare"),
    # the chain with one likely end is a known weakness: two steps see no gain in the lone first probe, one fifth of a test
    [((1 / 8,) * 8, 3.0, 0.0), ((0.5, 0.1, 0.1, 0.1, 0.1, 0.1), 2.2, 0.2)],
)
def test_a_chain_is_split_in_half_by_weight(prior, least, spare):
    many = len(prior)
    rows = ["".join("1" if state <= probe else "0" for probe in range(many - 1)) for state in range(many)]
    model = identification(prior, rows, (1,) * (many - 1))
    assert expected_minutes(model, information_gain(model, 1.0), RUNNING) == pytest.approx(IDENTIFY + least, abs=1e-6)
    assert IDENTIFY + least - 1e-6 <= ours(model) <= IDENTIFY + least + spare + 1e-6


# --- de Kleer and Williams 1987: multiple faults, next measurement by entropy (figures over all 32 fault sets computed here) ---

PARTS = ("M1", "M2", "M3", "A1", "A2")
GOOD = {"X": 6, "Y": 6, "Z": 6}


def sums(faulty, known=()):
    """What X, Y, Z must be, None where anything goes, when F = 10 and G = 12 were seen; None if that cannot be."""
    known = dict(known)
    value = {name: GOOD[name] if maker not in faulty else None for name, maker in zip("XYZ", PARTS, strict=False)}
    for name, seen in known.items():
        if value[name] not in (None, seen):
            return None
        value[name] = seen
    for _ in range(2):
        for adder, (a, b), total in (("A1", "XY", 10), ("A2", "YZ", 12)):
            if adder in faulty:
                continue
            for one, other in ((a, b), (b, a)):
                if value[one] is not None and value[other] is None:
                    value[other] = total - value[one]
            if value[a] is not None and value[b] is not None and value[a] + value[b] != total:
                return None
    return value


def polybox(unpredicted, known=()):
    sets = [frozenset(some) for k in range(6) for some in itertools.combinations(PARTS, k)]
    prior = [math.prod(0.01 if part in some else 0.99 for part in PARTS) for some in sets]
    fits = [float(sums(some, known) is not None) for some in sets]
    weigh = [unpredicted(some) for some in sets]
    rows = (tuple(f * w for f, w in zip(fits, weigh, strict=True)),)
    rows = (*rows, tuple(1.0 - cell for cell in rows[0]))
    check = IsolationCheck(
        id="seen",
        minutes=1,
        states=(RUNNING,),
        outcomes=("as seen", "else"),
        likelihood=tuple((*row, 0.5) for row in rows),
    )
    total = sum(prior)
    names = ["+".join(sorted(some)) or "none" for some in sets]
    model = IsolationModel(
        id="polybox",
        causes=(*names, SOMETHING_ELSE),
        prior=(*(p / total for p in prior), 0.0),
        checks=(check,),
        repairs=(),
    )
    return sets, belief(model, (Answered(check="seen", outcome="as seen"),))


def test_the_polybox_diagnoses_have_the_published_structure_and_these_weights():
    sets, after = polybox(lambda _: 1.0)
    fit = [some for some in sets if sums(some) is not None]
    minimal = {some for some in fit if not any(other < some for other in fit)}
    assert minimal == {frozenset({"A1"}), frozenset({"M1"}), frozenset({"A2", "M2"}), frozenset({"M2", "M3"})}
    assert [after["A1"], after["M1"], after["A2+M2"]] == pytest.approx([0.478026, 0.478026, 0.004829], abs=1e-6)
    faulty = {part: sum(after["+".join(sorted(s)) or "none"] for s in sets if part in s) for part in PARTS}
    wanted = {"M1": 0.497635, "A1": 0.497635, "M2": 0.019609, "M3": 0.014780, "A2": 0.014780}
    assert faulty == pytest.approx(wanted, abs=1e-6)
    assert sum(-p * math.log2(p) for p in after.values() if p > 0) == pytest.approx(1.359445, abs=1e-6)


@pytest.mark.parametrize(
    ("name", "shares"),
    [
        ("X", {6: 0.502365, 4: 0.492561, None: 0.005074}),
        ("Y", {6: 0.990097, 4: 0.009706, None: 1 - 0.990097 - 0.009706}),
        ("Z", {6: 0.994926, 8: 0.004829, None: 1 - 0.994926 - 0.004829}),
    ],
)
def test_the_polybox_predicts_its_next_measurements(name, shares):
    sets, after = polybox(lambda _: 1.0)
    predicted = dict.fromkeys(shares, 0.0)
    for some in sets:
        value = sums(some)
        if value is not None:
            predicted[value[name]] += after["+".join(sorted(some)) or "none"]
    assert predicted == pytest.approx(shares, abs=2e-6)


def test_unpredicted_observations_may_count_one_in_sixteen():
    def chance(some):
        free = sums(some)
        if free is None:
            return 1.0
        # F and G are predicted where adder and both of its inputs are sound; else one value of sixteen
        f = "A1" not in some and not {"M1", "M2"} & some
        g = "A2" not in some and not {"M2", "M3"} & some
        return (1.0 if f else 1 / 16) * (1.0 if g else 1 / 16)

    _, after = polybox(chance)
    assert [after["A1"], after["M1"]] == pytest.approx([0.496225, 0.496225], abs=1e-6)


def test_the_four_minimal_diagnoses_as_a_fault_model():
    x, y, z = binary(1, 0, 1, 1), binary(1, 1, 0, 0), binary(1, 1, 1, 0)
    model = small(
        (0.495, 0.495, 0.005, 0.005),
        [("X", 1, x), ("Y", 1, y), ("Z", 1, z)],
        [("a", 5, unit(0, 4)), ("b", 6, unit(1, 4)), ("c", 7, unit(2, 4)), ("d", 8, unit(3, 4))],
    )
    assert float(entropy(np.array([model.prior]))[0]) == pytest.approx(1.080793, abs=1e-6)
    gain = [gain_bits(model, index) for index in range(3)]
    assert gain == pytest.approx([0.999928, 0.080793, 0.045415], abs=1e-6)
    after = belief(model, (Answered(check="X", outcome="o1"),))
    assert after["c2"] == pytest.approx(1.0)


def gain_bits(model, index):
    prior = np.array([model.prior])
    return float(entropy(prior)[0] - entropy(prior * np.array(model.checks[index].likelihood)).sum())


# --- Lauritzen and Spiegelhalter 1988: the chest clinic; tables from documentation of a package for graphical models ----------


def chest_clinic():
    """The network as one list of joint causes, its other nodes as checks."""
    nodes = ("asia", "smoke", "tub", "lung", "bronc")
    joint = list(itertools.product((1, 0), repeat=5))

    def chance(state):
        asia, smoke, tub, lung, bronc = state
        tables = ((0.01, asia), (0.5, smoke), (0.05 if asia else 0.01, tub), (0.1 if smoke else 0.01, lung))
        return math.prod(p if on else 1 - p for p, on in (*tables, (0.6 if smoke else 0.3, bronc)))

    def xray(state):
        return 0.98 if state[2] or state[3] else 0.05

    def dysp(state):
        either = bool(state[2] or state[3])
        return {(1, True): 0.9, (1, False): 0.8, (0, True): 0.7, (0, False): 0.1}[state[4], either]

    rows = {
        "asia": [float(s[0]) for s in joint],
        "smoke": [float(s[1]) for s in joint],
        "xray": [xray(s) for s in joint],
        "dysp": [dysp(s) for s in joint],
    }
    return network_model([chance(s) for s in joint], rows), joint, nodes


def network_model(prior, rows):
    checks = tuple(
        IsolationCheck(
            id=name,
            minutes=1,
            states=(RUNNING,),
            outcomes=("yes", "no"),
            likelihood=((*row, 0.5), (*(1 - cell for cell in row), 0.5)),
        )
        for name, row in rows.items()
    )
    causes = (*(f"s{i}" for i in range(len(prior))), SOMETHING_ELSE)
    return IsolationModel(id="network", causes=causes, prior=(*prior, 0.0), checks=checks, repairs=())


CHEST = [
    # evidence, tub, lung, bronc, either, P(evidence); posteriors by full enumeration and by pgmpy
    ("", 0.0104, 0.055, 0.45, 0.064828, 1.0),
    ("dysp", 0.018845, 0.102759, 0.833967, 0.120536, 0.4359706),
    ("asia dysp", 0.087751, 0.099525, 0.811402, 0.1823, 0.00450138),
    ("asia dysp !xray", 0.002249, 0.00255, 0.862761, 0.004672, 0.00351315),
    ("asia dysp xray", 0.391712, 0.444271, 0.628822, 0.813769, 0.00098823),
    ("smoke dysp xray", 0.075266, 0.723714, 0.713706, 0.791454, 0.05551917),
]


@pytest.mark.parametrize(("evidence", "tub", "lung", "bronc", "either", "chance"), CHEST)
def test_the_chest_clinic_posteriors(evidence, tub, lung, bronc, either, chance):
    model, joint, _ = chest_clinic()
    log = tuple(Answered(check=e.strip("!"), outcome="no" if e[0] == "!" else "yes") for e in evidence.split())
    after = list(belief(model, log).values())

    def total(test):
        return sum(p for p, state in zip(after, joint, strict=False) if test(state))

    found = [total(lambda s: s[2]), total(lambda s: s[3]), total(lambda s: s[4]), total(lambda s: s[2] or s[3])]
    assert found == pytest.approx([tub, lung, bronc, either], abs=1e-6)
    assert evidence_chance(model, log) == pytest.approx(chance, rel=1e-5)


# --- Car start, in Jensen's textbooks (tables from memory, posteriors by enumeration) ------------------------------------------


@pytest.mark.parametrize(
    ("answers", "no_fuel", "dirty"),
    [
        ((("start", "no"),), 0.293186, 0.580626),
        ((("start", "no"), ("half", "yes")), 0.000691, 0.80435),
        ((("start", "no"), ("empty", "yes")), 0.976413, 0.058041),
    ],
)
def test_the_car_start_posteriors(answers, no_fuel, dirty):
    joint = [(fuel, clean) for fuel in (1, 0) for clean in (1, 0)]
    prior = [(0.98 if fuel else 0.02) * (0.96 if clean else 0.04) for fuel, clean in joint]
    start = [{(1, 1): 0.99, (1, 0): 0.01}.get(state, 0.0) for state in joint]
    half, empty = [0.60 if fuel else 0.001 for fuel, _ in joint], [0.01 if fuel else 0.998 for fuel, _ in joint]
    model = network_model(prior, {"start": start, "half": half, "empty": empty})
    log = tuple(Answered(check=check, outcome=outcome) for check, outcome in answers)
    after = list(belief(model, log).values())
    assert after[2] + after[3] == pytest.approx(no_fuel, abs=1e-6)
    assert after[1] + after[3] == pytest.approx(dirty, abs=1e-6)
    if len(answers) == 1:
        assert evidence_chance(model, log) == pytest.approx(0.068216, abs=1e-6)


# --- three small models, values in rational arithmetic by the exact solver -----------------------------------------------------


@pytest.mark.parametrize("name", PUBLIC)
def test_the_exact_solver_finds_the_stated_optimum_and_values(name):
    case = PUBLIC[name]
    cost, _, value = solve(case.model, case.energy, as_fraction)
    assert float(cost) == pytest.approx(case.expect["optimal_minutes"], abs=1e-9)
    for action, minutes in case.expect["value_of_first"].items():
        assert first_value(case, value, action) == pytest.approx(minutes, abs=1e-6), action


def first_value(case, value, action):
    """Minutes when `action` (name@state) is done first and the rest optimally."""
    if action == "hand_over":
        return case.model.hand_over
    name, state = action.split("@")
    model, nothing = case.model, (-1,) * len(case.model.checks)
    there = ("running", "stopped", "isolated").index(state)
    way = model.ladder.minutes(case.energy, Energy(state))
    checks = {check.id: i for i, check in enumerate(model.checks)}
    if name in checks:
        index, check = checks[name], model.checks[checks[name]]
        chances = [sum(p * cell for p, cell in zip(model.prior, row, strict=True)) for row in check.likelihood]
        thens = [(*nothing[:index], o, *nothing[index + 1 :]) for o in range(len(chances))]
        after = sum(
            p * float(value(t, frozenset(), frozenset(), there)[0]) for p, t in zip(chances, thens, strict=True)
        )
        return way + check.minutes + after
    index = model.repair_index(name)
    return way + model.repairs[index].minutes + float(value(nothing, frozenset(), frozenset({index}), there)[0])


@pytest.mark.parametrize("name", PUBLIC)
def test_every_policy_costs_its_stated_minutes_on_the_small_models(name):
    case = PUBLIC[name]
    model, energy = case.model, case.energy
    blind = policy_of(Isolator(replace(model, ladder=FREE), Search(rows=0)))
    found = {
        "one_step": ours(model, energy, Search(depth=1)),
        "two_step": ours(model, energy, Search(rows=0)),
        "one_step_proof_each": ours(model, energy, Search(depth=1, block=1)),
        "two_step_energy_blind": expected_minutes(model, blind, energy),
        "info_gain_0.80": expected_minutes(model, information_gain(model, 0.8), energy),
        "printed_table": expected_minutes(model, printed_table(model), energy),
        "repairs_only_blocks": ours(model, energy, Search(depth=0)),
        "repairs_only_proof_each": ours(model, energy, Search(depth=0, block=1)),
    }
    assert found == pytest.approx(case.expect["policy_minutes"], abs=6e-5)


@pytest.mark.parametrize("name", PUBLIC)
def test_the_first_action_is_in_the_optimal_tie_set(name):
    case = PUBLIC[name]
    action = Isolator(case.model).decide((), case.energy).action
    said = (
        "hand_over"
        if isinstance(action, HandOver)
        else f"{action.repair if isinstance(action, DoRepair) else action.check}@{action.energy}"
    )
    assert said in case.expect["optimal_first"]


def test_posteriors_entropy_and_information_of_the_switch_model():
    case = PUBLIC["P1"]
    for item in case.expect["posterior"]:
        log = tuple(Answered(check=check, outcome=outcome) for check, outcome in item["answers"].items())
        assert belief(case.model, log) == pytest.approx(item["p"], abs=1e-6)
        assert evidence_chance(case.model, log) == pytest.approx(item["p_evidence"], abs=1e-9)
    assert float(entropy(np.array([case.model.prior]))[0]) == pytest.approx(case.expect["entropy_bits"], abs=1e-6)
    bits = {check.id: gain_bits(case.model, i) for i, check in enumerate(case.model.checks)}
    assert bits == pytest.approx(case.expect["information_gain_bits"], abs=1e-6)
    decision = Isolator(case.model).decide((), case.energy)
    assert decision.repair_minutes == pytest.approx(case.expect["repair_plan_minutes"], abs=1e-9)


# --- pgmpy (exact inference in networks) as referee: the model is a naive network, cause to checks -----------------------------


def test_pgmpy_agrees_on_the_posterior_of_two_hundred_random_models(without_warnings):
    from pgmpy.factors.discrete import TabularCPD
    from pgmpy.inference import VariableElimination
    from pgmpy.models import DiscreteBayesianNetwork

    rng = np.random.default_rng(5)
    for _ in range(200):
        causes, checks = int(rng.integers(2, 8)), int(rng.integers(1, 5))
        prior = rng.dirichlet(np.ones(causes))
        tables = [rng.dirichlet(np.ones(int(rng.integers(2, 4))), size=causes).T for _ in range(checks)]
        network = DiscreteBayesianNetwork([("cause", f"k{j}") for j in range(checks)])
        network.add_cpds(
            TabularCPD("cause", causes, prior[:, None]),
            *(TabularCPD(f"k{j}", len(t), t, evidence=["cause"], evidence_card=[causes]) for j, t in enumerate(tables)),
        )
        said = {f"k{j}": int(rng.integers(len(t))) for j, t in enumerate(tables) if rng.random() < 0.7}
        theirs = VariableElimination(network).query(["cause"], evidence=said, show_progress=False).values
        model = IsolationModel(
            id="random",
            causes=(*(f"c{i}" for i in range(causes - 1)), SOMETHING_ELSE),
            prior=tuple(prior.tolist()),
            checks=tuple(
                IsolationCheck(
                    id=f"k{j}",
                    minutes=1,
                    states=(RUNNING,),
                    outcomes=tuple(str(o) for o in range(len(t))),
                    likelihood=tuple(map(tuple, t.tolist())),
                )
                for j, t in enumerate(tables)
            ),
            repairs=(),
        )
        log = tuple(Answered(check=check, outcome=str(outcome)) for check, outcome in said.items())
        assert list(belief(model, log).values()) == pytest.approx(theirs.tolist(), abs=1e-9)


@pytest.fixture
def without_warnings():
    """The referee's imports and checks warn of things that are its own."""
    import warnings

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        yield
