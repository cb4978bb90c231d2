from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.domain.sound import RATE_HZ
from assistant.recognition.endpointing import CHUNK, CHUNK_MS, Edge, Endpointer, EndpointState, Phase, Timing, step

TIMING = Timing(least_speech_ms=96, end_silence_ms=480, longest_ms=3_200, pre_roll_ms=320)


class Scripted:
    """Chances in order, silence when they are used up."""

    def __init__(self, chances):
        self.chances = list(chances)

    def chance(self, chunk):
        assert len(chunk) == CHUNK
        return self.chances.pop(0) if self.chances else 0.0

    def reset(self):
        pass


def run(chances, timing=TIMING, sizes=None):
    """Pieces, for samples that count up so that each can be told from every other."""
    samples = (np.arange(len(chances) * CHUNK) % 30_000).astype(np.int16)
    endpointer = Endpointer(Scripted(chances), timing)
    cuts = np.cumsum(sizes)[:-1] if sizes else np.arange(1_600, len(samples), 1_600)
    pieces = [piece for block in np.split(samples, cuts) for piece in endpointer.accept(block)]
    return samples, pieces + list(endpointer.finish())


def edges(chances, timing=TIMING):
    return [p.edge for p in run(chances, timing)[1] if p.edge not in INSIDE]


def inside(chances, timing=TIMING):
    return [p.edge for p in run(chances, timing)[1] if p.edge is not Edge.SOUND]


INSIDE = (Edge.SOUND, Edge.SETTLING, Edge.RESUMED)
SPEECH, QUIET = [0.9], [0.1]


def test_speech_starts_and_ends():
    assert edges(QUIET * 20 + SPEECH * 20 + QUIET * 30) == [Edge.STARTED, Edge.ENDED]


def test_the_first_syllables_before_the_start_are_kept():
    samples, pieces = run(QUIET * 20 + SPEECH * 20 + QUIET * 30)
    assert pieces[0].start_ms == 20 * CHUNK_MS - TIMING.pre_roll_ms
    said = np.concatenate([p.samples for p in pieces])
    first = (20 - TIMING.pre_roll_ms // CHUNK_MS) * CHUNK
    last = (20 + 20 + TIMING.end_silence_ms // CHUNK_MS) * CHUNK
    assert np.array_equal(said, samples[first:last])


def test_a_knock_is_no_utterance():
    assert edges(QUIET * 20 + SPEECH * 2 + QUIET * 20 + SPEECH * 1 + QUIET * 20) == []


def test_a_pause_shorter_than_the_silence_does_not_end_it():
    assert edges(SPEECH * 10 + QUIET * 14 + SPEECH * 10 + QUIET * 20) == [Edge.STARTED, Edge.ENDED]
    assert edges(SPEECH * 10 + QUIET * 15 + SPEECH * 10 + QUIET * 20) == [Edge.STARTED, Edge.ENDED] * 2


def test_a_pause_says_that_it_has_perhaps_ended_and_speech_that_it_has_not():
    assert TIMING.settling_ms == 7 * CHUNK_MS < TIMING.end_silence_ms
    begun, perhaps, on, over = Edge.STARTED, Edge.SETTLING, Edge.RESUMED, Edge.ENDED
    assert inside(SPEECH * 10 + QUIET * 6 + SPEECH * 10 + QUIET * 20) == [begun, perhaps, over]
    assert inside(SPEECH * 10 + QUIET * 7 + SPEECH * 10 + QUIET * 20) == [begun, perhaps, on, perhaps, over]
    assert inside(SPEECH * 10 + QUIET * 14 + SPEECH + QUIET * 7 + SPEECH) == [begun, *[perhaps, on] * 2, over]
    assert inside(SPEECH * 10 + QUIET * 20, replace(TIMING, settling_ms=480)) == [begun, over]


@given(st.lists(st.sampled_from([0.05, 0.9]), max_size=300))
def test_before_an_end_by_silence_it_was_settled_and_nothing_came_since(script):
    edges = inside([*script, *QUIET * 15])
    for before, edge in pairwise(edges):
        assert (edge is Edge.RESUMED) <= (before is Edge.SETTLING)
        assert (edge is Edge.ENDED) <= (before is Edge.SETTLING)


def test_a_wavering_voice_between_the_two_thresholds_stays_one_utterance():
    assert edges(SPEECH * 10 + [0.4] * 40 + SPEECH * 5 + QUIET * 20) == [Edge.STARTED, Edge.ENDED]


def test_noise_that_sounds_like_speech_is_cut_once_and_then_waited_out():
    assert edges(SPEECH * 1_000 + QUIET * 20 + SPEECH * 10 + QUIET * 20) == [
        Edge.STARTED,
        Edge.CUT,
        Edge.STARTED,
        Edge.ENDED,
    ]


def test_an_utterance_that_the_file_ends_in_ends_there():
    assert edges(QUIET * 5 + SPEECH * 10) == [Edge.STARTED, Edge.ENDED]


chances = st.lists(st.one_of(st.floats(0, 1), st.sampled_from([0.05, 0.9])), max_size=300)


@given(chances)
def test_edges_alternate_and_no_utterance_is_too_long(script):
    _, pieces = run(script)
    is_open, length = False, 0
    for piece in pieces:
        if piece.edge is Edge.STARTED:
            assert not is_open
            is_open, length = True, 0
        else:
            assert is_open
        length += len(piece.samples)
        is_open = piece.edge not in (Edge.ENDED, Edge.CUT)
        assert 1000 * length / RATE_HZ <= TIMING.longest_ms + TIMING.pre_roll_ms + CHUNK_MS
    assert not is_open


@given(chances, st.lists(st.integers(1, 3_000), min_size=1, max_size=40))
def test_the_size_of_the_blocks_changes_nothing(script, sizes):
    sizes = [*sizes, max(1, len(script) * CHUNK - sum(sizes))]
    one, other = run(script)[1], run(script, sizes=sizes)[1]
    whole = lambda pieces: [(p.edge, p.start_ms) for p in pieces]  # noqa: E731
    assert whole(one) == whole(other)


@given(chances)
def test_samples_of_utterances_come_once_in_order_and_from_their_place(script):
    samples, pieces = run(script)
    at = 0
    for piece in pieces:
        first = piece.start_ms * RATE_HZ // 1000
        assert first >= at and np.array_equal(piece.samples, samples[first : first + len(piece.samples)])
        at = first + len(piece.samples)


@given(st.floats(0.5, 1), st.integers(1, 400))
def test_no_steady_noise_is_open_longer_than_the_longest(chance, chunks):
    state, open_ms = EndpointState(), 0
    for _ in range(chunks):
        state, _ = step(state, chance, TIMING)
        open_ms = open_ms + CHUNK_MS if state.phase is Phase.SPEECH else 0
        assert open_ms <= TIMING.longest_ms


@pytest.mark.engine
def test_the_packaged_model_hears_no_speech_in_hall_noise_and_finds_it_in_a_voice(voice_sound):
    from assistant.recognition.voice_activity import SileroDetector

    noise = (np.random.default_rng(0).normal(0, 800, RATE_HZ * 3)).astype(np.int16)
    endpointer = Endpointer(SileroDetector())
    pieces = [*endpointer.accept(np.concatenate([noise, voice_sound, noise])), *endpointer.finish()]
    assert [p.edge for p in pieces if p.edge not in INSIDE] == [Edge.STARTED, Edge.ENDED]
    begin, end = pieces[0].start_ms, pieces[-1].start_ms
    length_ms = 1000 * len(voice_sound) // RATE_HZ
    assert 3_000 - 500 <= begin <= 3_000 + 500 and 3_000 + length_ms - 700 <= end <= 3_000 + length_ms + 900
