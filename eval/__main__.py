"""`python -m eval`: quality; `bench`, `ablation`, `calibrate`, `compose`, `fuzz`, `isolation`."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence

from assistant.assembly import Options, make_assistant, make_encoder, shelf_of
from assistant.corpus.reader import read_knowledge
from assistant.errors import AssistantError, KnowledgeError
from assistant.pipeline import Assistant
from assistant.settings import load_settings
from eval.cases import SETS, EvalCase, read_cases


def main() -> int:
    """Run one of the benches; exit 1 when a gate is missed or the input has faults."""
    parser = argparse.ArgumentParser(prog="python -m eval", description="The bench of questions and benchmarks.")
    parser.add_argument(
        "what",
        nargs="?",
        default="quality",
        choices=["quality", "ablation", "calibrate", "compose", "fuzz", "bench", "isolation"],
    )
    parser.add_argument("--misses", action="store_true", help="list every case that went wrong")
    parser.add_argument("--sets", nargs="*", default=sorted(SETS), choices=sorted(SETS))
    parser.add_argument("--faults", type=int, default=3_000, help="isolation: simulated faults of each authored model")
    parser.add_argument("--instances", type=int, default=300, help="isolation: small models solved exactly")
    parser.add_argument("--large", type=int, default=150, help="isolation: simulated faults of each large model")
    arguments = parser.parse_args()
    try:
        if arguments.what == "isolation":
            return isolation(arguments.faults, arguments.instances, arguments.large)
        return run(arguments.what, arguments.sets, misses=arguments.misses)
    except AssistantError as error:
        print(f"error: {error.message}\n  {error.hint}", file=sys.stderr)
        return 1


def isolation(faults: int, instances: int, large: int) -> int:
    """The bench of fault isolation; authored models are measured where the knowledge can be read."""
    from eval.isolation import Amount, isolation_bench, with_outcomes

    try:
        ready, ladders = with_outcomes(read_knowledge(load_settings().knowledge))
    except KnowledgeError as error:
        print(f"authored fault models are left out: {len(error.faults)} faults in the knowledge", file=sys.stderr)
        ready, ladders = [], {}
    return isolation_bench(ready, ladders, Amount(faults=faults, instances=instances, large_faults=large))


def run(what: str, sets: Sequence[str], *, misses: bool) -> int:
    """One bench."""
    settings = load_settings()
    if what == "bench":
        from eval.bench import bench

        return bench(settings)
    assistant = make_assistant(settings, Options(model=False), print)
    if what == "compose":
        from eval.compose import compose_table

        print("\n".join(compose_table(settings, assistant.knowledge)))
        return 0
    if what == "fuzz":
        from eval.fuzz import fuzz

        tried, passed = fuzz(assistant.knowledge, assistant.rules, 10_000)
        print(f"{tried} lying drafts, {len(passed)} reached an answer")
        return 1 if passed else 0
    cases = {name: read_cases(SETS[name], assistant.knowledge) for name in sets}
    if what == "quality":
        return quality(assistant, cases, misses=misses)
    from eval.ablation import ablation
    from eval.calibrate import calibrate, look

    encoder = make_encoder(shelf_of(settings))
    every = [case for some in cases.values() for case in some]
    if what == "calibrate":
        calibrate(assistant, encoder, every)
        return 0
    print("\n".join(ablation(assistant.retriever, look(assistant, encoder, every))))  # type: ignore[arg-type]
    return 0


def quality(assistant: Assistant, cases: dict[str, tuple[EvalCase, ...]], *, misses: bool) -> int:
    """The table of each set."""
    from eval.quality import by_group, run_cases, summary
    from eval.quality import misses as list_misses

    for name, some in cases.items():
        results = run_cases(assistant, some)
        print(f"{name}: {len(some)} cases, knowledge {assistant.knowledge.digest[:12]}")
        for row in summary(results):
            print(f"  {row}")
        print("\n".join(by_group(results)))
        if misses:
            print("\n".join(list_misses(results)))
    return 0


if __name__ == "__main__":
    sys.exit(main())
