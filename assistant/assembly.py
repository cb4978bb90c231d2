"""Settings -> the assistant, every engine built once; what could not be had is said in one line each."""

from __future__ import annotations

import importlib.util
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

from assistant.corpus.digest import knowledge_digest
from assistant.dialogue.calculating import Calculations
from assistant.dialogue.guide import Guide
from assistant.dialogue.looking_up import Tables
from assistant.dialogue.planners import Isolators, Learned
from assistant.domain.entries import FaultModel
from assistant.domain.knowledge import KnowledgeBase
from assistant.domain.stages import Composer, Encoder, LanguageModel
from assistant.errors import IndexFailure, KnowledgeError, ModelError, RecordError
from assistant.pipeline import Assistant
from assistant.recognition.repair import Repair
from assistant.retrieval import store
from assistant.retrieval.passages import asked_passages, told_passages
from assistant.rules.refusal import RefusalJudge
from assistant.rules.verdict import Rules
from assistant.settings import Settings
from assistant.weights.catalogue import read_catalogue
from assistant.weights.shelf import Shelf

Say = Callable[[str], None]


def clock_ms() -> float:
    """Milliseconds of a clock that only goes forward; for the timing fields, never for a decision."""
    return time.perf_counter() * 1000.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Options:
    """How to build: `last_good` serves the last good index when the knowledge has faults, `fresh` rebuilds it."""

    last_good: bool = False
    fresh: bool = False
    model: bool = True


def shelf_of(settings: Settings) -> Shelf:
    """The model files of these settings."""
    return Shelf(read_catalogue(), settings.data_dir / "models", settings.models)


def make_encoder(shelf: Shelf) -> Encoder:
    """The encoder.

    Raises:
        ModelError: a file is missing or corrupt.

    """
    from assistant.retrieval.encoder import MiniLmEncoder

    model, tokenizer = shelf.path("encoder"), shelf.path("tokenizer")
    found = shelf.find("encoder")
    own = "own" if found is not None and found.own else shelf.model("encoder").sha256[:12]
    return MiniLmEncoder(model, tokenizer, f"minilm-int8-{own}")


def built_index(settings: Settings, encoder: Encoder, options: Options, say: Say) -> store.Built:
    """The index of the knowledge as it stands: loaded, rebuilt when stale, or the last good one when asked to.

    Raises:
        KnowledgeError: the knowledge has faults and the last good index was not asked for.

    """
    root = settings.cache_dir / "index"
    old = store.last_good(root)
    try:
        digest = knowledge_digest(settings.knowledge)
        folder = root / store.index_key(digest, encoder.name)
        if not options.fresh and (folder / "meta.json").exists():
            try:
                return store.load(folder)
            except IndexFailure as error:
                say(f"{error.message} It is built anew.")
        elif old is not None and not options.fresh:
            say("The knowledge has changed since the index was built; the index is rebuilt.")
        else:
            say("The index is built; this is done once.")
        from assistant.corpus.reader import read_knowledge  # brings the schema check, which a start does not need

        built = store.build(read_knowledge(settings.knowledge), encoder, store.known_vectors(old, encoder.name))
    except KnowledgeError:
        if options.last_good and old is not None:
            say("The knowledge has faults; the last good index serves. Run `handlamp check`.")
            return store.load(old)
        raise
    _save(built, folder, encoder.name, say)
    return built


def known_knowledge(settings: Settings) -> KnowledgeBase:
    """The knowledge alone, without the engines: the stored one while its files are unchanged, else read anew.

    Raises:
        KnowledgeError: the knowledge has faults.

    """
    from assistant.corpus.snapshot import unpack_knowledge

    folder = store.last_good(settings.cache_dir / "index")
    if folder is not None:
        try:
            stored = unpack_knowledge((folder / "knowledge.json").read_bytes())
            if stored.digest == knowledge_digest(settings.knowledge):
                return stored
        except (OSError, IndexFailure):
            pass  # a broken store is no reason not to calculate; the knowledge is read from its files
    from assistant.corpus.reader import read_knowledge

    return read_knowledge(settings.knowledge)


def _save(built: store.Built, folder: Path, encoder_name: str, say: Say) -> None:
    try:
        store.save(built, folder, encoder_name)
    except OSError as error:
        reason = error.strerror or str(error)
        say(
            f"The index cannot be kept in {folder.parent} ({reason}); it works from memory and is rebuilt at each start."
        )


def make_assistant(settings: Settings, options: Options, say: Say) -> Assistant:
    """Everything put together.

    Raises:
        KnowledgeError: the knowledge has faults.
        ModelError: the encoder is missing or corrupt.

    """
    shelf = shelf_of(settings)
    encoder = make_encoder(shelf)
    built = built_index(settings, encoder, options, say)
    retriever = store.make_retriever(built, encoder, clock_ms)
    rules = Rules(built.knowledge)
    return Assistant(
        knowledge=built.knowledge,
        guide=Guide(built.knowledge, rules, Isolators(built.knowledge, lessons_of(settings)), likeness(encoder)),
        calculations=Calculations(built.knowledge, rules),
        tables=Tables(built.knowledge, rules),
        formulator=store.make_formulator(built),
        retriever=retriever,
        composer=make_composer(settings, shelf, encoder, options, say),
        rules=rules,
        judge=RefusalJudge(built.knowledge, *store.load_refusal_thresholds()),
        threshold=retriever.coverage.threshold,
        repair=Repair(
            lambda: (p.text for e in built.knowledge.entries() for p in (*asked_passages(e), *told_passages(e)))
        ),
    )


def lessons_of(settings: Settings) -> Callable[[FaultModel], Learned | None]:
    """What the closed jobs of the record say of a fault's causes; read when a hunt begins, never stored."""

    def learned(fault: FaultModel) -> Learned | None:
        from assistant.records.learning import learned_weights
        from assistant.records.ledger import FILE, open_ledger

        path = settings.data_dir / FILE
        if not path.exists():
            return None
        try:
            with open_ledger(path) as ledger:
                found = learned_weights(fault, ledger.states())
        except RecordError:
            return None  # the chat says what is wrong with the record; the authored weights serve
        weights = {cause.cause: cause.learned for cause in found.causes}
        return Learned(weights=weights, jobs=len(found.counted)) if found.counted else None

    return learned


def likeness(encoder: Encoder) -> Callable[[str, Sequence[str]], Sequence[float]]:
    """Cosines of a text with others."""

    def alike(text: str, others: Sequence[str]) -> Sequence[float]:
        vectors = encoder.encode([text, *others])
        return [float(vectors[0] @ vector) for vector in vectors[1:]]

    return alike


def make_composer(settings: Settings, shelf: Shelf, encoder: Encoder, options: Options, say: Say) -> Composer:
    """The composer of the settings, or the next best one with a line that says why."""
    from assistant.composition import composers

    if settings.composer == "passage":
        return composers.PassageComposer()
    if settings.composer == "encoder" or not options.model:
        return composers.EncoderComposer(encoder) if settings.composer == "encoder" else composers.PassageComposer()
    missing = missing_model(shelf)
    if missing is not None:
        say(f"{missing.message} Answers are the authored passages as they stand. {missing.hint}")
        return composers.PassageComposer()
    model = LazyModel(shelf)
    inner: Composer
    if settings.composer == "grammar":
        inner = composers.GrammarComposer(encoder, model)
    elif settings.composer == "likelihood":
        inner = composers.LikelihoodComposer(encoder, model, 1.0, "likelihood")
    else:
        inner = composers.LikelihoodComposer(encoder, model, composers.BLEND, "blend")
    return composers.GuardedComposer(inner, composers.EncoderComposer(encoder), settings.deadline_ms, clock_ms)


def missing_model(shelf: Shelf) -> ModelError | None:
    """Why there can be no language model, found without loading it; None when it can be tried."""
    if importlib.util.find_spec("llama_cpp") is None:
        return ModelError("llama.cpp is not installed.", "Install a C++ compiler and run `make install` again.")
    if shelf.find("language-model") is None:
        return ModelError("The language model is not installed.", "Run `handlamp models fetch language-model`.")
    return None


class LazyModel:
    """Loads the language model at its first use, so that the prompt and all other answers do not wait for it."""

    def __init__(self, shelf: Shelf) -> None:
        """Load nothing yet."""
        self._shelf = shelf
        self._model: LanguageModel | None = None

    @property
    def name(self) -> str:
        """The role's file name."""
        return self._shelf.model("language-model").file

    def _loaded(self) -> LanguageModel:
        if self._model is None:
            try:
                from assistant.composition.llama import LlamaModel
            except (ImportError, OSError, RuntimeError) as error:
                raise ModelError(f"llama.cpp cannot be loaded ({error}).", "Run `make install` again.") from error
            self._model = LlamaModel(self._shelf.path("language-model"))
        return self._model

    def likelihoods(self, prefixes: Sequence[str], continuation: str) -> tuple[float, ...]:
        """Mean log-probability of the continuation after each prefix."""
        return self._loaded().likelihoods(prefixes, continuation)

    def choose(self, prompt: str, grammar: str, max_tokens: int) -> str:
        """Greedy decoding bounded by a grammar."""
        return self._loaded().choose(prompt, grammar, max_tokens)
