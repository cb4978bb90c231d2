import dataclasses

import numpy as np
import pytest

from assistant.assembly import Options, built_index
from assistant.errors import IndexFailure, KnowledgeError
from assistant.retrieval import store
from tests.conftest import FACT, make_pack


class Twin:
    """A scripted encoder: the vector of a text is drawn from its characters."""

    name = "twin"

    def __init__(self):
        self.encoded = 0

    def encode(self, texts):
        self.encoded += len(texts)
        rows = [np.random.default_rng(sum(map(ord, t)) % 2**32).standard_normal(384) for t in texts]
        array = np.array(rows, dtype=np.float32).reshape(len(texts), 384)
        return array / np.maximum(np.linalg.norm(array, axis=1, keepdims=True), 1e-9)


@pytest.fixture
def place(tmp_path, settings):
    make_pack(tmp_path / "knowledge")
    return dataclasses.replace(settings, knowledge=tmp_path / "knowledge", cache_dir=tmp_path / "cache")


def build(place, twin=None, **options):
    said = []
    built = built_index(place, twin or Twin(), Options(**options), said.append)
    return built, said


def test_an_index_is_built_once_and_then_loaded(place):
    _, first = build(place)
    twin = Twin()
    again, said = build(place, twin)
    assert "built" in first[0]
    assert said == [] and twin.encoded == 0
    assert again.knowledge.facts[0].id == "gap"


def test_a_stale_index_rebuilds_itself_with_a_notice_and_encodes_only_what_changed(place):
    build(place)
    path = place.knowledge / "machines/tiny/facts.yaml"
    path.write_text(FACT.replace("what gap,", "which spacing,"))
    twin = Twin()
    built, said = build(place, twin)
    assert "has changed" in said[0]
    assert twin.encoded == 1
    assert any(p.text == "which spacing" for p in built.texts.asked)


def test_a_broken_file_loads_nothing_but_the_last_good_index_serves_if_asked(place):
    build(place)
    (place.knowledge / "machines/tiny/facts.yaml").write_text("- id: gap\n")
    with pytest.raises(KnowledgeError):
        build(place)
    built, said = build(place, last_good=True)
    assert built.knowledge.facts[0].answer == ("The gap is 2 mm to 3 mm.",)
    assert "last good" in said[0] or "last good" in said[-1]


def test_a_corrupt_index_is_built_anew(place):
    build(place)
    folder = store.last_good(place.cache_dir / "index")
    (folder / "asked.faiss").write_bytes(b"junk")
    built, said = build(place)
    assert "built anew" in said[0] and len(built.vectors["asked"]) > 0


def test_a_cache_that_cannot_be_written_is_said_and_memory_serves(place, tmp_path):
    (tmp_path / "file").write_text("in the way")
    built, said = build(dataclasses.replace(place, cache_dir=tmp_path / "file"))
    assert any("works from memory" in line for line in said)
    assert built.knowledge.facts


def test_a_full_disk_leaves_no_half_index(place, monkeypatch):
    def full(index, path):
        raise RuntimeError("No space left on device")

    monkeypatch.setattr(store, "save_index", full)
    built, said = build(place)
    assert any("works from memory" in line for line in said) and built.knowledge.facts
    assert not any(p.name.endswith(".new") for p in (place.cache_dir / "index").iterdir())


def test_another_format_is_refused(place):
    build(place)
    folder = store.last_good(place.cache_dir / "index")
    (folder / "meta.json").write_text('{"format": 0}')
    with pytest.raises(IndexFailure):
        store.load(folder)
