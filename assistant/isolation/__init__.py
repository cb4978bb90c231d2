"""Guided fault isolation: a belief over causes, and the check, repair or proof at least expected minutes.

From a dialogue:

    model = compile_model(fault, ladder_of(machine.values), weights)     # once a complaint
    isolator = Isolator(model)                                           # once a complaint; `allowed=` bars energy states
    log = (Answered(check="lamp", outcome="dark"), DontKnow(check="fuse"))
    decision = isolator.decide(log, Energy.STOPPED)                      # .action, .step, .minutes_left, .options, .near
    why = explain(model, log, decision)                                  # the numbers of the sentence
    belief(model, log)                                                   # cause -> chance
    contradiction(model, log)                                            # .alarm, .suspects: which answer to look at again
    prospect(isolator, log, Energy.STOPPED)                              # minutes with an interval

The log is the only state: everything is derived from it anew. An undo takes the last event off, `Revised` replaces what was
said of a check at its place. `decision.step` is a change of energy state when the action needs one; after the technician
declares it, ask again with the new state. A code that stood on the panel is evidence of no minutes: `seen` and `taken_back`
give the log with it and without it.
After repairs the log takes `Repaired`, then `ProofPassed` or `ProofFailed`; `Finish` says that the proof is enough.
Also here: `read` (a figure to an outcome or a mixture of two), `credit` and `learned_weights` (closed jobs to cause weights),
`prepare` (what to bring, what to ask the caller). Pure functions of their arguments: no clock, chance or files.
"""

from assistant.isolation.compilation import compile_model, ladder_of
from assistant.isolation.contradiction import contradiction
from assistant.isolation.explanation import explain
from assistant.isolation.learning import credit, learned_weights
from assistant.isolation.panel import counted, seen, taken_back
from assistant.isolation.policy import Isolator, belief
from assistant.isolation.preparation import Complaint, prepare
from assistant.isolation.prospect import prospect
from assistant.isolation.reading import read

__all__ = [
    "Complaint",
    "Isolator",
    "belief",
    "compile_model",
    "contradiction",
    "counted",
    "credit",
    "explain",
    "ladder_of",
    "learned_weights",
    "prepare",
    "prospect",
    "read",
    "seen",
    "taken_back",
]
