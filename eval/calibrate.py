"""Development cases and authored examples -> the fitted weights of ranking, coverage and wishes.

Uses scikit-learn, which only the bench needs. Cross-validated figures are printed beside the fit: they, not the fit,
say how the weights do on questions that they have not seen.
"""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from random import Random
from typing import Any

import numpy as np
import yaml
from numpy.typing import NDArray
from scipy.sparse import csr_matrix, hstack
from sklearn.linear_model import LogisticRegression
from sklearn.model_selection import StratifiedKFold

from assistant.domain.search import Hit, Query
from assistant.domain.stages import Encoder
from assistant.pipeline import Assistant
from assistant.retrieval.reranking import Evidence, features
from assistant.retrieval.retriever import HybridRetriever, Rankings, leaning
from assistant.retrieval.store import CALIBRATION, TOPIC
from assistant.retrieval.wishes import CONCEPT_SCALE, WEIGHTS, WORD_SCALE, WishConcepts, word_features
from eval.cases import ROOT, EvalCase
from eval.wording.perturbation import telegram, without_function_words

FOLDS = 5
LOST = 0.0225
"""Share of covered questions that the coverage threshold may lose, in cross-validation."""
BENIGN_REFUSED = 0.04
"""Share of benign questions, unseen, that the refusal threshold may refuse: an unsafe wish that passes costs more than a
question that is answered with the safe way."""
MARGIN = 8.0
"""Weight of the margin on the logistic scale: at the same share of unsafe questions refused (0.93 of unseen ones) it
refused 0.036 of unseen ordinary questions against 0.053 without it; 4 to 10 were alike."""
ORDINARY = ROOT / "calibration" / "ordinary.yaml"
"""Questions that name guards, fuses and stops and wish nothing: no refusal is near, so they stand in no group."""
Matrix = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Seen:
    """One case with all that the rankers found for it."""

    case: EvalCase
    query: Query
    rankings: Rankings


def look(assistant: Assistant, encoder: Encoder, cases: Sequence[EvalCase]) -> list[Seen]:
    """Run the rankers once for every case."""
    retriever = assistant.retriever
    assert isinstance(retriever, HybridRetriever)
    seen = []
    for case in cases:
        query = assistant.formulator.formulate(case.q, case.machine or None).query
        seen.append(Seen(case=case, query=query, rankings=retriever.rankings(query, encoder.encode([case.q]))))
    return seen


# --- ranking


def fit_ranking(retriever: HybridRetriever, seen: Sequence[Seen], steps: int = 400) -> dict[str, float]:
    """Weights of the features by softmax over candidates (Adam, L2 0.001); the fusion is left as it is."""
    names: dict[str, int] = {}
    groups: list[tuple[Matrix, NDArray[np.bool_]]] = []
    raw = []
    for item in seen:
        if not item.case.wanted or item.case.outcome != "answered":
            continue
        hits = retriever.candidates(item.query, item.rankings)
        rows = [_row(retriever, item, hit) for hit in hits]
        good = np.array([str(hit.entry) in item.case.wanted for hit in hits])
        if good.any():
            raw.append((rows, good))
            for row in rows:
                for name in row:
                    names.setdefault(name, len(names))
    for rows, good in raw:
        matrix = np.zeros((len(rows), len(names)))
        for i, row in enumerate(rows):
            for name, value in row.items():
                matrix[i, names[name]] = value
        groups.append((matrix, good))
    weights = _softmax_fit(groups, len(names), steps)
    return {name: round(float(weights[place]), 3) for name, place in sorted(names.items())}


def _row(retriever: HybridRetriever, item: Seen, hit: Hit) -> dict[str, float]:
    evidence = item.rankings.evidence.get(hit.entry, Evidence())
    return features(item.query, hit.entry, retriever.kinds[hit.entry], evidence)


def _softmax_fit(groups: Sequence[tuple[Matrix, NDArray[np.bool_]]], size: int, steps: int) -> Matrix:
    weights, first, second = np.zeros(size), np.zeros(size), np.zeros(size)
    for t in range(1, steps + 1):
        gradient = 1e-3 * weights * len(groups)
        for matrix, good in groups:
            z = matrix @ weights
            p = np.exp(z - z.max())
            p /= p.sum()
            target = p * good
            gradient += matrix.T @ (p - target / (target.sum() + 1e-12))
        gradient /= len(groups)
        first = 0.9 * first + 0.1 * gradient
        second = 0.999 * second + 0.001 * gradient**2
        weights = weights - 0.1 * (first / (1 - 0.9**t)) / (np.sqrt(second / (1 - 0.999**t)) + 1e-8)
    return weights


def ranks_of(retriever: HybridRetriever, seen: Sequence[Seen]) -> list[int]:
    """Rank of the first entry that answers, 999 when it is not among the candidates."""
    found = []
    for item in seen:
        hits = retriever.ordered(item.query, item.rankings)
        found.append(next((i for i, hit in enumerate(hits, start=1) if str(hit.entry) in item.case.wanted), 999))
    return found


def cross_validated_ranks(retriever: HybridRetriever, seen: Sequence[Seen]) -> list[int]:
    """Ranks with weights fitted without the question's own fold."""
    asked = [item for item in seen if item.case.wanted and item.case.outcome == "answered"]
    before, ranks = retriever.tuning, [0] * len(asked)
    for fold in range(FOLDS):
        rest = [item for i, item in enumerate(asked) if i % FOLDS != fold]
        retriever.tuning = replace(before, ranking=fit_ranking(retriever, rest, 200))
        for i, rank in zip(range(fold, len(asked), FOLDS), ranks_of(retriever, asked[fold::FOLDS]), strict=True):
            ranks[i] = rank
    retriever.tuning = before
    return ranks


# --- coverage


def fit_coverage(assistant: Assistant, encoder: Encoder, seen: Sequence[Seen]) -> dict[str, Any]:
    """Logistic weights, and the threshold that loses the allowed share of covered questions in cross-validation.

    The topic direction is fitted on phrasings against outside questions; inside a fold, on that fold's rest only.
    """
    retriever = assistant.retriever
    assert isinstance(retriever, HybridRetriever)
    kept = [item for item in seen if item.case.outcome in ("answered", "not_covered") and not item.query.exact]
    covered = np.array([item.case.outcome == "answered" for item in kept])
    phrasings = [text for e in assistant.knowledge.entries() if e.kind != "refusal" for text in e.phrasings]
    inside = encoder.encode(phrasings).astype(np.float64)
    vectors = np.vstack([item.rankings.vector for item in kept]).astype(np.float64)
    rows = np.array([retriever.signs(i.query, i.rankings, retriever.ordered(i.query, i.rankings)).row() for i in kept])
    folds = list(StratifiedKFold(FOLDS, shuffle=True, random_state=0).split(rows, covered))
    for train, test in folds:
        topic = _topic(inside, vectors[train][~covered[train]], vectors[train][covered[train]])
        rows[test, -1] = topic.decision_function(vectors[test])
    chances = np.zeros(len(kept))
    for train, test in folds:
        model = _cover().fit(rows[train], covered[train])
        chances[test] = model.predict_proba(rows[test])[:, 1]
    threshold = float(np.quantile(chances[covered], LOST))
    print(
        f"coverage, cross-validated: {np.mean(chances[~covered] < threshold):.3f} of {int((~covered).sum())} outside"
        f" questions declared, {np.mean(chances[covered] < threshold):.3f} of {int(covered.sum())} covered ones lost"
    )
    model = _cover().fit(rows, covered)
    topic = _topic(inside, vectors[~covered], vectors[covered])
    data = {"intercept": round(float(topic.intercept_[0]), 4), "vector": [round(float(w), 4) for w in topic.coef_[0]]}
    TOPIC.write_text(json.dumps(data, separators=(",", ":")) + "\n", encoding="utf-8")
    return {
        "intercept": round(float(model.intercept_[0]), 4),
        "weights": [round(float(w), 4) for w in model.coef_[0]],
        "threshold": round(threshold, 4),
    }


def _topic(inside: Matrix, outside: Matrix, asked: Matrix) -> LogisticRegression:
    texts = np.vstack([inside, asked, outside])
    labels = np.array([1] * (len(inside) + len(asked)) + [0] * len(outside))
    return LogisticRegression(C=3.0, max_iter=2000, class_weight="balanced").fit(texts, labels)


def _cover() -> LogisticRegression:
    return LogisticRegression(C=100.0, max_iter=5000, class_weight="balanced")


# --- wishes


def wish_examples(assistant: Assistant, cases: Sequence[EvalCase]) -> tuple[list[str], list[int], list[int]]:
    """Texts, 1 for a wish to be refused, and the set: 0 authored, 1 unsafe case, 2 benign case, 3 other case."""
    texts: list[str] = []
    labels: list[int] = []
    sets: list[int] = []

    def take(items: Sequence[str], label: int, name: int) -> None:
        texts.extend(items)
        labels.extend([label] * len(items))
        sets.extend([name] * len(items))

    for refusal in assistant.knowledge.refusals:
        take(_in_haste(refusal.phrasings), 1, 0)
        take(_in_haste(refusal.benign), 0, 0)
    for path in sorted((ROOT / "calibration").glob("wishes_*.yaml")):
        for group in yaml.safe_load(path.read_text(encoding="utf-8")).values():
            take(_in_haste(group["unsafe"]), 1, 0)
            take(_in_haste(group["benign"]), 0, 0)
    take(_in_haste(yaml.safe_load(ORDINARY.read_text(encoding="utf-8"))), 0, 0)
    for entry in assistant.knowledge.entries():
        if entry.kind != "refusal":
            take(entry.phrasings, 0, 0)
    for case in cases:
        if case.outcome == "refused":
            take([case.q], 1, 1)
        elif case.outcome == "answered":
            take([case.q], 0, 2 if "benign" in case.group else 3)
    return texts, labels, sets


def _in_haste(texts: Sequence[str]) -> list[str]:
    """The texts, and each once more as a telegram: terse wishes were let through by a model that had seen none."""
    chance = Random(0)
    short = [
        change for text in texts if (change := telegram(str(text), chance) or without_function_words(str(text), chance))
    ]
    return [*map(str, texts), *short]


def fit_wishes(assistant: Assistant, encoder: Encoder, cases: Sequence[EvalCase]) -> dict[str, float]:
    """Fit the wish model, write it, and return the thresholds; prints cross-validated refusal rates."""
    texts, labels, sets = wish_examples(assistant, cases)
    concepts = WishConcepts()
    found = [concepts.found(text) for text in texts]
    worded = [word_features(text) for text in texts]
    concept_place = _vocabulary(found, 4)
    word_place = _vocabulary(worded, 3)
    matrix = hstack(
        [
            csr_matrix(encoder.encode(texts).astype(np.float64)),
            _indicator(found, concept_place, CONCEPT_SCALE, unit=False),
            _indicator(worded, word_place, WORD_SCALE, unit=True),
        ]
    ).tocsr()
    y, kind = np.array(labels), np.array(sets)
    fixed, pool = np.flatnonzero(kind == 0), np.flatnonzero(kind > 0)
    chances = np.zeros(len(texts))
    for train, test in StratifiedKFold(FOLDS, shuffle=True, random_state=0).split(pool, kind[pool]):
        model = _logistic().fit(matrix[np.concatenate([fixed, pool[train]])], y[np.concatenate([fixed, pool[train]])])
        chances[pool[test]] = model.predict_proba(matrix[pool[test]])[:, 1]
    chances = _leaning(assistant, encoder, texts, chances, pool)
    alone = float(np.quantile(chances[kind == 2], 1 - BENIGN_REFUSED))
    for name, number in (("unsafe refused", 1), ("benign refused", 2), ("other refused", 3)):
        print(f"wishes, cross-validated at {alone:.3f}: {name} {np.mean(chances[kind == number] >= alone):.3f}")
    model = _logistic().fit(matrix, y)
    _write_wishes(model, concept_place, word_place)
    return {"alone": round(alone, 3), "margin": MARGIN, "with_pattern": round(alone / 3, 3)}


def _leaning(
    assistant: Assistant, encoder: Encoder, texts: Sequence[str], chances: Matrix, pool: NDArray[np.intp]
) -> Matrix:
    """The chances of the cases moved by how much nearer each is to what is refused than to what is asked."""
    retriever = assistant.retriever
    assert isinstance(retriever, HybridRetriever)
    moved = chances.copy()
    for i in pool:
        vector = encoder.encode([texts[i]])
        wish = max((near.unsafe for near in retriever.nearness(vector)), default=0.0)
        moved[i] = leaning(float(chances[i]), retriever.margin(vector, wish), MARGIN)
    return moved


def _logistic() -> LogisticRegression:
    return LogisticRegression(C=10.0, max_iter=3000)


def _vocabulary(found: Sequence[Any], least: int) -> dict[str, int]:
    counts = Counter(name for names in found for name in set(names))
    return {name: i for i, name in enumerate(sorted(n for n, c in counts.items() if c >= least))}


def _indicator(found: Sequence[Any], place: dict[str, int], scale: float, *, unit: bool) -> csr_matrix:
    rows, columns, values = [], [], []
    for i, names in enumerate(found):
        known = [place[name] for name in sorted(set(names)) if name in place]
        for column in known:
            rows.append(i)
            columns.append(column)
            values.append(scale / np.sqrt(len(known)) if unit else scale)
    return csr_matrix((values, (rows, columns)), shape=(len(found), len(place)))


def _write_wishes(model: LogisticRegression, concept_place: dict[str, int], word_place: dict[str, int]) -> None:
    weights = model.coef_[0]
    middle, end = 384 + len(concept_place), 384 + len(concept_place) + len(word_place)
    data = {
        "intercept": round(float(model.intercept_[0]), 4),
        "vector": [round(float(w), 4) for w in weights[:384]],
        "concepts": {name: round(float(weights[384 + i]), 3) for name, i in concept_place.items()},
        "words": {
            name: round(float(w), 3) for (name, _), w in zip(word_place.items(), weights[middle:end], strict=True)
        },
    }
    WEIGHTS.write_text(json.dumps(data, separators=(",", ":")) + "\n", encoding="utf-8")


def outside_cases() -> list[EvalCase]:
    """Questions that nothing here answers, written to teach the coverage model."""
    paths = sorted((ROOT / "calibration").glob("outside*.yaml"))
    texts = [(path.name, text) for path in paths for text in yaml.safe_load(path.read_text(encoding="utf-8"))]
    return [EvalCase(q=str(text), outcome="not_covered", place=name) for name, text in texts]


def calibrate(assistant: Assistant, encoder: Encoder, cases: Sequence[EvalCase], *, wishes: bool = True) -> None:
    """Fit everything and write it beside the retrieval code; without `wishes`, what is refused stays as it was fitted."""
    retriever = assistant.retriever
    assert isinstance(retriever, HybridRetriever)
    seen = look(assistant, encoder, cases)
    ranks = cross_validated_ranks(retriever, seen)
    print(
        "ranking, cross-validated:", {f"R@{k}": round(float(np.mean([r <= k for r in ranks])), 3) for k in (1, 3, 10)}
    )
    weights = fit_ranking(retriever, seen)
    retriever.tuning = replace(retriever.tuning, ranking=weights)
    covered = fit_coverage(assistant, encoder, [*seen, *look(assistant, encoder, outside_cases())])
    before = yaml.safe_load(CALIBRATION.read_text(encoding="utf-8"))["refusal"]
    thresholds = fit_wishes(assistant, encoder, cases) if wishes else before
    data = {
        "covered": covered,
        "ranking": {"fusion": dict(retriever.tuning.fusion), "k": retriever.tuning.k, "weights": weights},
        "refusal": thresholds,
    }
    head = "# Fitted by `python -m eval calibrate` on the cases under eval/; never edited by hand.\n"
    CALIBRATION.write_text(head + yaml.safe_dump(data, sort_keys=True), encoding="utf-8")
