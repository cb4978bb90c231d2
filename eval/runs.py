"""Settings and cases -> a run: every case observed once, kept by signature so that an unchanged run is only read."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import msgspec

from assistant.assembly import Options, clock_ms, make_assistant
from assistant.corpus.digest import knowledge_digest
from assistant.corpus.reader import read_knowledge
from assistant.corpus.snapshot import unpack_knowledge
from assistant.domain.knowledge import KnowledgeBase
from assistant.pipeline import Assistant
from assistant.retrieval.store import last_good
from assistant.settings import Settings
from eval.cases import SETS, read_cases
from eval.observation import Observed, Observer, observe_all
from eval.progress import Progress, say
from eval.sentences import SentenceScore, read_graded, score_answers
from eval.signature import Signature, sign

KEPT = 12
"""Runs kept; older ones are removed."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """All observations of some sets of cases, by set, and the scores of the graded answers."""

    signature: Signature
    sets: Mapping[str, tuple[Observed, ...]]
    sentences: tuple[SentenceScore, ...] = ()

    @property
    def all(self) -> tuple[Observed, ...]:
        """Every observation, sets in the order of their names."""
        return tuple(o for name in sorted(self.sets) for o in self.sets[name])


def run(settings: Settings, names: Sequence[str], *, model: bool = False, fresh: bool = False) -> Run:
    """The run of these sets: read where nothing it depends on has changed, else done and kept.

    Raises:
        KnowledgeError: the knowledge or a case file has faults.

    """
    signature = sign(settings, [SETS[name] for name in names], model=model)
    path = settings.cache_dir / "eval" / f"run-{signature.key}.json"
    if not fresh:
        kept = read_run(path)
        if kept is not None:
            return kept
    assistant = make_assistant(settings, Options(model=model), say)
    done = observe(assistant, names, signature)
    keep_run(done, path)
    return done


def observe(assistant: Assistant, names: Sequence[str], signature: Signature) -> Run:
    """Every case of these sets asked, and every graded question, with a bar of progress."""
    cases = {name: read_cases(SETS[name], assistant.knowledge) for name in names}
    observer = Observer(assistant, clock_ms)
    with Progress("asking", sum(len(some) for some in cases.values()) + len(read_graded())) as progress:
        sets = {name: observe_all(observer, some, progress.tick) for name, some in cases.items()}
        sentences = score_answers(observer, assistant.knowledge, progress.tick)
    return Run(signature=signature, sets=sets, sentences=sentences)


def known(settings: Settings) -> KnowledgeBase:
    """The knowledge as it stands: from the snapshot beside the index where that is of these files, else read."""
    folder = last_good(settings.cache_dir / "index")
    if folder is not None:
        knowledge = unpack_knowledge((folder / "knowledge.json").read_bytes())
        if knowledge.digest == knowledge_digest(settings.knowledge):
            return knowledge
    return read_knowledge(settings.knowledge)


def read_run(path: Path) -> Run | None:
    """A kept run, or None where there is none or it is of an older form."""
    try:
        return msgspec.json.decode(path.read_bytes(), type=Run)
    except (OSError, msgspec.MsgspecError):
        return None


def keep_run(done: Run, path: Path) -> None:
    """Write it whole or not at all; an unwritable cache costs only the next run's time."""
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        partial = path.with_suffix(".part")
        partial.write_bytes(msgspec.json.encode(done))
        partial.replace(path)
        old = sorted(path.parent.glob("run-*.json"), key=lambda p: p.stat().st_mtime_ns)
        for stale in old[:-KEPT]:
            stale.unlink(missing_ok=True)
    except OSError as error:
        say(f"The run cannot be kept in {path.parent}: {error.strerror}.")
