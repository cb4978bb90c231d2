"""Knowledge -> the search index on disk, named by what it was built from; a stale one rebuilds itself."""

from __future__ import annotations

import hashlib
import json
import shutil
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path

import yaml

from assistant.corpus.snapshot import pack_knowledge, unpack_knowledge
from assistant.domain.entries import Refusal
from assistant.domain.knowledge import KnowledgeBase
from assistant.domain.search import Passage
from assistant.domain.stages import Encoder, Vectors
from assistant.domain.terms import EntryId
from assistant.errors import IndexFailure
from assistant.retrieval.analysis import make_lexicon, terms_of
from assistant.retrieval.coverage import Coverage, Topic
from assistant.retrieval.dense import DenseRanker, load_index, make_index, save_index, stored_vectors
from assistant.retrieval.formulation import Formulator
from assistant.retrieval.lexical import LexicalRanker
from assistant.retrieval.nearness import UNSAFE, WishCompass
from assistant.retrieval.passages import asked_passages, told_passages
from assistant.retrieval.retriever import HybridRetriever, Tuning, passage_vectors
from assistant.retrieval.spelling import Spelling
from assistant.retrieval.whitening import Whitening
from assistant.retrieval.wishes import load_wish_model

FORMAT = 6
"""Raised when what is stored changes its meaning."""
KEPT = 2
CALIBRATION = Path(__file__).with_name("calibration.yaml")
TOPIC = Path(__file__).with_name("topic_model.json")
Say = Callable[[str], None]


@dataclass(frozen=True, slots=True, kw_only=True)
class SearchTexts:
    """The passages of a knowledge base by their use, in the order of their vectors."""

    asked: tuple[Passage, ...]
    told: tuple[Passage, ...]
    wishes: tuple[Passage, ...]


def search_texts(knowledge: KnowledgeBase) -> SearchTexts:
    """All passages; a refusal is found by its wishes only and is no hit."""
    entries = [entry for entry in knowledge.entries() if not isinstance(entry, Refusal)]
    wishes = [
        Passage(entry=refusal.full_id, section=UNSAFE, text=text)
        for refusal in knowledge.refusals
        for text in refusal.phrasings
    ]
    return SearchTexts(
        asked=tuple(p for entry in entries for p in asked_passages(entry)),
        told=tuple(p for entry in entries for p in told_passages(entry)),
        wishes=tuple(wishes),
    )


def index_key(digest: str, encoder_name: str) -> str:
    """The name of the index built from that knowledge with that encoder."""
    return hashlib.sha256(f"{FORMAT}|{digest}|{encoder_name}".encode()).hexdigest()[:20]


@dataclass(frozen=True, slots=True, kw_only=True)
class Built:
    """Everything that retrieval needs in memory; `note` says what was noteworthy about getting it."""

    knowledge: KnowledgeBase
    texts: SearchTexts
    vectors: Mapping[str, Vectors]


def build(knowledge: KnowledgeBase, encoder: Encoder, known: Mapping[str, Vectors]) -> Built:
    """Encode what is not yet known."""
    texts = search_texts(knowledge)
    vectors = {
        name: passage_vectors(encoder, passages, known)
        for name, passages in (("asked", texts.asked), ("told", texts.told), ("wishes", texts.wishes))
    }
    return Built(knowledge=knowledge, texts=texts, vectors=vectors)


def save(built: Built, folder: Path, encoder_name: str) -> None:
    """Write an index folder as a whole: beside it first, then renamed into place.

    Raises:
        OSError: the disk is full or the folder cannot be written.

    """
    folder.parent.mkdir(parents=True, exist_ok=True)
    fresh = folder.with_name(folder.name + ".new")
    shutil.rmtree(fresh, ignore_errors=True)
    fresh.mkdir()
    try:
        (fresh / "knowledge.json").write_bytes(pack_knowledge(built.knowledge))
        for name, vectors in built.vectors.items():
            try:
                save_index(make_index(vectors), fresh / f"{name}.faiss")
            except RuntimeError as error:  # faiss reports a full disk this way
                raise OSError(str(error)) from error
        meta = {"format": FORMAT, "digest": built.knowledge.digest, "encoder": encoder_name}
        (fresh / "meta.json").write_text(json.dumps(meta, indent=1), encoding="utf-8")
        shutil.rmtree(folder, ignore_errors=True)
        fresh.rename(folder)
        (folder.parent / "last_good").write_text(folder.name, encoding="utf-8")
    except OSError:
        shutil.rmtree(fresh, ignore_errors=True)
        raise
    _forget_old(folder)


def _forget_old(folder: Path) -> None:
    others = [p for p in folder.parent.iterdir() if p.is_dir() and p != folder and (p / "meta.json").exists()]
    for old in sorted(others, key=lambda p: (p.stat().st_mtime, p.name))[: -(KEPT - 1)]:
        shutil.rmtree(old, ignore_errors=True)


def load(folder: Path) -> Built:
    """Read an index folder.

    Raises:
        IndexFailure: it is missing, unreadable, or of another format.

    """
    try:
        meta = json.loads((folder / "meta.json").read_text(encoding="utf-8"))
        knowledge = unpack_knowledge((folder / "knowledge.json").read_bytes())
    except (OSError, ValueError) as error:
        raise IndexFailure(f"The index {folder.name} cannot be read: {error}", "Run `handlamp index`.") from error
    if meta.get("format") != FORMAT:
        raise IndexFailure(f"The index {folder.name} is of another format.", "Run `handlamp index`.")
    vectors = {name: stored_vectors(load_index(folder / f"{name}.faiss")) for name in ("asked", "told", "wishes")}
    return Built(knowledge=knowledge, texts=search_texts(knowledge), vectors=vectors)


def last_good(folder: Path) -> Path | None:
    """The index folder written last, or None."""
    pointer = folder / "last_good"
    try:
        candidate = folder / pointer.read_text(encoding="utf-8").strip()
    except OSError:
        return None
    return candidate if (candidate / "meta.json").exists() else None


def known_vectors(folder: Path | None, encoder_name: str) -> dict[str, Vectors]:
    """Text -> vector of an earlier index of the same encoder, so that an edit encodes only what changed."""
    if folder is None:
        return {}
    try:
        meta = json.loads((folder / "meta.json").read_text(encoding="utf-8"))
        if meta.get("encoder") != encoder_name or meta.get("format") != FORMAT:
            return {}
        built = load(folder)
    except (OSError, ValueError, IndexFailure):
        return {}
    known: dict[str, Vectors] = {}
    for name, passages in (("asked", built.texts.asked), ("told", built.texts.told), ("wishes", built.texts.wishes)):
        known.update(zip((p.text for p in passages), built.vectors[name], strict=True))
    return known


def load_calibration(path: Path = CALIBRATION) -> tuple[Coverage, Tuning]:
    """The fitted model of "covered", and the weights of the ranking."""
    data = yaml.load(path.read_text(encoding="utf-8"), Loader=yaml.CSafeLoader)
    covered, ranking = data["covered"], data["ranking"]
    coverage = Coverage(
        intercept=covered["intercept"], weights=tuple(covered["weights"]), threshold=covered["threshold"]
    )
    margin = data["refusal"]["margin"]
    return coverage, Tuning(fusion=ranking["fusion"], k=ranking["k"], ranking=ranking["weights"] or {}, margin=margin)


def load_topic(path: Path = TOPIC) -> Topic:
    """The fitted direction of what the knowledge is about."""
    data = json.loads(path.read_text(encoding="utf-8"))
    return Topic(intercept=data["intercept"], vector=tuple(data["vector"]))


def load_refusal_thresholds(path: Path = CALIBRATION) -> tuple[float, float]:
    """The chance above which a wish is refused, alone and together with an authored pattern."""
    refusal = yaml.load(path.read_text(encoding="utf-8"), Loader=yaml.CSafeLoader)["refusal"]
    return refusal["alone"], refusal["with_pattern"]


def make_retriever(built: Built, encoder: Encoder, clock_ms: Callable[[], float]) -> HybridRetriever:
    """The rankers over a built index."""
    knowledge, texts = built.knowledge, built.texts
    lexicon = make_lexicon(knowledge.lexicon.groups)
    entries = [(e.full_id, e.pack, e.kind) for e in knowledge.entries() if not isinstance(e, Refusal)]
    ids = [entry for entry, _, _ in entries]
    coverage, tuning = load_calibration()
    asked = _terms_by_entry(ids, texts.asked, lexicon)
    told = _terms_by_entry(ids, texts.told, lexicon)
    return HybridRetriever(
        entries=entries,
        lexical={
            "asked": LexicalRanker(ids, [asked[i] for i in ids], "asked"),
            "told": LexicalRanker(ids, [told[i] for i in ids], "told"),
        },
        dense={
            "asked": DenseRanker(texts.asked, make_index(built.vectors["asked"])),
            "told": DenseRanker(texts.told, make_index(built.vectors["told"])),
        },
        whitening=lambda: Whitening(texts.asked, built.vectors["asked"]),
        compass=WishCompass(texts.wishes, built.vectors["wishes"]),
        encoder=encoder,
        wishes=load_wish_model(),
        coverage=coverage,
        topic=load_topic(),
        tuning=tuning,
        documents={i: frozenset(asked[i]) | frozenset(told[i]) for i in ids},
        clock_ms=clock_ms,
    )


def make_formulator(built: Built) -> Formulator:
    """The formulator that knows the names in this knowledge, and its words as they may be mistyped."""
    texts = built.texts
    spelling = Spelling(lambda: (p.text for p in (*texts.asked, *texts.told, *texts.wishes)))
    return Formulator(built.knowledge, make_lexicon(built.knowledge.lexicon.groups), spelling.mend)


def _terms_by_entry(
    ids: list[EntryId], passages: tuple[Passage, ...], lexicon: Mapping[str, str]
) -> dict[EntryId, list[str]]:
    found: dict[EntryId, list[str]] = {entry: [] for entry in ids}
    for passage in passages:
        found[passage.entry].extend(terms_of(passage.text, lexicon))
    return found
