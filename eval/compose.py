"""Graded answer sentences -> how well each composer chooses: precision and recall of what it brings forward."""

from __future__ import annotations

import time
from collections.abc import Mapping, Sequence

import yaml

from assistant.assembly import LazyModel, make_encoder, shelf_of
from assistant.composition.composers import EncoderComposer, GrammarComposer, LikelihoodComposer
from assistant.domain.knowledge import KnowledgeBase
from assistant.domain.search import Sentence
from assistant.domain.stages import Composer
from assistant.errors import ModelError
from assistant.retrieval.passages import sentences_of_entry
from assistant.settings import Settings
from eval.cases import ROOT
from eval.measures import measure, percentile

EVERY = 2
"""Every second graded question is asked: each composer takes about a second a question."""
GRADED = ROOT / "sentences" / "graded.yaml"


class FirstSentence:
    """The author's first sentence: the baseline that needs no model."""

    name = "first sentence"

    def choose(self, sentences: Sequence[Sentence]) -> tuple[Sentence, ...]:
        """The first."""
        return tuple(sentences[:1])


def compose_table(settings: Settings, knowledge: KnowledgeBase) -> list[str]:
    """A line a composer: is the first sentence right, precision and recall of all brought forward, milliseconds."""
    graded = yaml.safe_load(GRADED.read_text(encoding="utf-8"))[::EVERY]
    entries = {str(entry.full_id): entry for entry in knowledge.entries()}
    shelf = shelf_of(settings)
    encoder, model = make_encoder(shelf), LazyModel(shelf)
    composers: dict[str, Composer | None] = {
        "first sentence (no model)": None,
        "encoder": EncoderComposer(encoder),
        "query likelihood": LikelihoodComposer(encoder, model, 1.0, "likelihood"),
        "grammar decoding": GrammarComposer(encoder, model),
    }
    for share in (0.3, 0.5):
        composers[f"blend, model {share}"] = LikelihoodComposer(encoder, model, share, "blend")
    lines = []
    for name, composer in composers.items():
        rows = [row for item in graded if (row := _one(composer, item, entries)) is not None]
        first = measure("", [row[0] for row in rows])
        lines.append(
            f"  {name:<28} first right {first.mean:.3f} [{first.low:.3f}, {first.high:.3f}]"
            f"  precision {measure('', [r[1] for r in rows]).mean:.3f}  recall {measure('', [r[2] for r in rows]).mean:.3f}"
            f"  p95 {percentile([r[3] for r in rows], 0.95):.0f} ms"
        )
    return lines


def _one(
    composer: Composer | None, item: Mapping[str, object], entries: Mapping[str, object]
) -> tuple[float, float, float, float] | None:
    sentences = [s for s in sentences_of_entry(entries[str(item["entry"])]) if s.section != "danger"]  # type: ignore[arg-type]
    answers = item["answers"]
    assert isinstance(answers, dict)
    wanted = {text for text, grade in answers.items() if grade == 2} & {s.text for s in sentences}
    if not wanted:
        return None  # its answer is a danger, which the rules place themselves, or the entry has none
    started = time.perf_counter()
    try:
        chosen = (
            composer.compose(str(item["q"]), sentences).sentences if composer else FirstSentence().choose(sentences)
        )
    except ModelError:
        chosen = ()
    elapsed = (time.perf_counter() - started) * 1000.0
    right = [s.text in wanted for s in chosen]
    precision = sum(right) / len(right) if right else 0.0
    recall = sum(right) / len(wanted) if wanted else 0.0
    return (float(bool(right) and right[0]), precision, recall, elapsed)
