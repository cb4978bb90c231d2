"""Text -> stemmed content words, spelling and trade synonyms brought together."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from functools import lru_cache

import Stemmer

STOPWORDS = frozenset(
    "a an the this that these those is are was were be been being am do does did doing done have has had having i me my we"
    " our you your he she it its they them their to of in on at by for with from as and or but if then than so too very can"
    " could should would will shall may might must just also there here what which who whom how when where why all any some"
    " no not nor only own same such s t d ll m re ve y im ive dont doesnt isnt cant wont please hi hello hey ok okay mate"
    " about into over after before again out up down off get gets got getting go goes going".split()
)
"""Function words; `up`, `down`, `off` are kept as pairs with their verb by the dense ranker, not here."""
_stemmer = Stemmer.Stemmer("english")


def words_of(text: str) -> tuple[str, ...]:
    """Lower-cased words and numbers; a designation stays one word ("fc3")."""
    lowered = re.sub(r"\b([a-z]{1,2})[ -]?(\d{1,2})\b", r"\1\2", text.lower())
    return tuple(re.findall(r"[a-z]{1,2}\d{1,2}\b|[a-z]+(?:'[a-z]+)?|\d+(?:\.\d+)?", lowered))


@lru_cache(maxsize=65536)
def stem(word: str) -> str:
    """The Snowball English stem."""
    return str(_stemmer.stemWord(word.replace("'", "")))


def terms_of(text: str, lexicon: Mapping[str, str] | None = None) -> tuple[str, ...]:
    """Stemmed content words in order, repeats kept; `lexicon` maps a phrase of stems to its trade term."""
    stems = [stem(word) for word in words_of(text) if word.replace("'", "") not in STOPWORDS]
    return tuple(with_trade_terms(stems, lexicon)) if lexicon else tuple(stems)


def with_trade_terms(stems: Iterable[str], lexicon: Mapping[str, str]) -> list[str]:
    """The stems, and after each word or pair that the lexicon knows, the term that all its synonyms share."""
    result: list[str] = []
    given = list(stems)
    for i, word in enumerate(given):
        result.append(word)
        pair = f"{given[i - 1]} {word}" if i else ""
        for key in (pair, word):
            if key and key in lexicon:
                result.append(lexicon[key])
    return result


def make_lexicon(groups: Iterable[Iterable[str]]) -> dict[str, str]:
    """Groups of synonyms -> phrase of stems -> the group's shared term (its first word, marked)."""
    lexicon: dict[str, str] = {}
    for group in groups:
        names = list(group)
        shared = "=" + names[0].replace(" ", "_")
        for name in names:
            key = " ".join(stem(word) for word in words_of(name) if word not in STOPWORDS)
            if key and len(key.split()) <= 2:
                lexicon[key] = shared
    return lexicon
