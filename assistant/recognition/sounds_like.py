"""Words -> what they sound like, so that a word heard wrong can be held against words that are known."""

from __future__ import annotations

from functools import cache


@cache
def sound_of(words: str) -> str:
    """Metaphone of each word (Philips 1990), run together: where the words are cut is what is heard worst."""
    from jellyfish import metaphone

    return "".join(metaphone(word) for word in words.split())
