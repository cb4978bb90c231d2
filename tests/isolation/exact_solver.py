"""Reference of the tests: the least expected minutes of a small model by recursion over beliefs, in exact fractions if asked.

Independent of the package: it knows nothing of its tables, plans or beliefs. About a second for four checks and repairs.
"""

from fractions import Fraction
from functools import lru_cache

from assistant.domain.isolation import LADDER, depth


def as_fraction(value):
    return Fraction(str(value))


def solve(model, energy, number=float):
    """(cost, first action, value function) from a state; actions are (kind, index, state)."""
    zero = 0 if number is as_fraction else 1e-14
    prior = [number(x) for x in model.prior]
    way = [[number(model.ladder.minutes(a, b)) for b in LADDER] for a in LADDER]
    proof, hand_over = number(model.proof_minutes), number(model.hand_over)
    checks = []
    for check in model.checks:
        know = 1 - number(check.dont_know)
        rows = [[know * number(cell) for cell in row] for row in check.likelihood]
        rows += [[number(check.dont_know)] * len(prior)] if check.dont_know else []
        checks.append((number(check.minutes), [depth(e) for e in check.states], rows))
    repairs = [
        (number(r.minutes) + number(r.price), [depth(e) for e in r.states], [number(x) for x in r.cures])
        for r in model.repairs
    ]

    def weights(answers, failed):
        w = list(prior)
        for index, answer in enumerate(answers):
            if answer >= 0:
                w = [a * b for a, b in zip(w, checks[index][2][answer], strict=True)]
        for index in failed:
            w = [a * (1 - s) for a, s in zip(w, repairs[index][2], strict=True)]
        return w

    @lru_cache(None)
    def value(answers, failed, waiting, state):
        w = weights(answers, failed)
        mass = sum(w)
        best, action = hand_over, ("hand over", None, state)
        if waiting:
            left = sum(weights(answers, failed | waiting))
            cost = way[state][0] + proof
            if left > zero:
                cost += left / mass * value(answers, failed | waiting, frozenset(), 0)[0]
            if cost < best:
                best, action = cost, ("prove", None, 0)
        else:
            for kind, cost in check_costs(answers, failed, w, state):
                if cost < best:
                    best, action = cost, kind
        for index, (minutes, states, _) in enumerate(repairs):
            if index in failed or index in waiting:
                continue
            for there in states:
                cost = way[state][there] + minutes + value(answers, failed, waiting | {index}, there)[0]
                if cost < best:
                    best, action = cost, ("repair", index, there)
        return best, action

    def check_costs(answers, failed, w, state):
        mass = sum(w)
        for index, (minutes, states, rows) in enumerate(checks):
            if answers[index] >= 0:
                continue
            for there in states:
                cost = way[state][there] + minutes
                for outcome, row in enumerate(rows):
                    chance = sum(a * b for a, b in zip(w, row, strict=True)) / mass
                    if chance > zero:
                        then = (*answers[:index], outcome, *answers[index + 1 :])
                        cost += chance * value(then, failed, frozenset(), there)[0]
                yield ("check", index, there), cost

    cost, action = value((-1,) * len(checks), frozenset(), frozenset(), depth(energy))
    return cost, action, value
