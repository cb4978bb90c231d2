import numpy as np

from assistant.domain.search import Passage
from assistant.retrieval.whitening import Whitening


def made(seed=0, entries=6, each=12, dim=20):
    """Phrasings that differ much along one axis of tone and little along those of subject."""
    chance = np.random.default_rng(seed)
    subjects = chance.normal(0, 1.0, (entries, dim))
    subjects[:, 0] = 0.0
    passages, rows = [], []
    for entry in range(entries):
        for _ in range(each):
            row = subjects[entry] + chance.normal(0, 0.35, dim)
            row[0] = chance.normal(0, 6.0)
            rows.append(row / np.linalg.norm(row))
            passages.append(Passage(entry=f"p/fault/e{entry}", section="asked", text=f"{entry} {len(rows)}"))
    return passages, np.asarray(rows, dtype=np.float32), subjects


def question(subjects, entry, tone):
    row = subjects[entry].copy()
    row[0] = tone
    return (row / np.linalg.norm(row)).astype(np.float32).reshape(1, -1)


def test_a_tone_that_no_phrasing_shares_does_not_hide_the_subject():
    passages, vectors, subjects = made()
    near = Whitening(passages, vectors)
    for entry in range(6):
        found = near.of(question(subjects, entry, 14.0))
        assert max(found, key=lambda e: found[e].centre) == f"p/fault/e{entry}"
    # the plain cosine follows the tone, or this would show nothing
    plain = [passages[int(np.argmax(vectors @ question(subjects, e, 14.0).reshape(-1)))].entry for e in range(6)]
    assert plain != [f"p/fault/e{e}" for e in range(6)]


def test_closeness_is_what_it_says():
    passages, vectors, subjects = made()
    near = Whitening(passages, vectors)
    asked = question(subjects, 2, 1.0)
    found = near.of(asked)["p/fault/e2"]
    own = [i for i, p in enumerate(passages) if p.entry == "p/fault/e2"]
    cosines = sorted(
        (float(near._whitened(vectors[i : i + 1])[0] @ near._whitened(asked)[0]) for i in own), reverse=True
    )
    np.testing.assert_allclose([found.best, found.mean], [cosines[0], sum(cosines[:3]) / 3], rtol=1e-4)
    assert found.share == 1.0 and abs(found.centre) <= 1.0


def test_one_phrasing_and_none_are_no_error():
    one = Whitening([Passage(entry="a", section="asked", text="x")], np.ones((1, 4), dtype=np.float32) / 2)
    assert set(one.of(np.ones((1, 4), dtype=np.float32) / 2)) == {"a"}
    assert Whitening([], np.zeros((0, 4), dtype=np.float32)).of(np.zeros((1, 4), dtype=np.float32)) == {}
