"""What was said of a check -> one of its outcomes, a reading, don't know, or nothing that fits."""

from __future__ import annotations

import re
from dataclasses import dataclass
from enum import StrEnum

from assistant.dialogue.replies import Reply, reply_of
from assistant.domain.entries import Check, CheckOutcome
from assistant.recognition.numbers import DIGITS
from assistant.recognition.readings import Reading, one_reading
from assistant.retrieval.analysis import stem

_WORD = re.compile(r"[a-z0-9]+(?:'[a-z]+)?")
_NOT = frozenset(
    {
        "not",
        "no",
        "never",
        "isn't",
        "aren't",
        "wasn't",
        "doesn't",
        "don't",
        "didn't",
        "won't",
        "can't",
        "neither",
        "nor",
        "without",
        "nothing",
        "none",
        "nobody",
        "hardly",
        "barely",
    }
)
_BARE_NOT = re.compile(r"\b(is|are|was|were|do|does|did|wo|ca|has|have|had)nt\b")
"""Negations typed without their apostrophe: left alone, "isnt lit" would be read as lit."""
_IS_NOT = re.compile(r"\b(is|are|was|were)n't\b")
_ORDINALS = {"first": 1, "second": 2, "third": 3, "fourth": 4, "fifth": 5}
_FILLERS = frozenset(
    "it it's its is was are were the a an they they're that that's looks look seems seem still just quite rather very well so and there there's all i we get got have see saw hear find found says said shows read reads reading about um uh er".split()
)
"""Words that a short answer is wrapped in."""


MOST_LEFT = 1
"""Words of an answer that no saying of its outcome explains, before the outcome is asked back."""


class Miss(StrEnum):
    """Why an answer was not taken."""

    NOTHING = "fits no outcome"
    SEVERAL = "fits several outcomes"


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckReply:
    """Exactly one of: an outcome's label, a reading, don't know, or why nothing was taken.

    `sure` is False for an outcome whose words stand among many others: it is asked back before it counts.
    """

    outcome: str = ""
    sure: bool = True
    reading: Reading | None = None
    unknown: bool = False
    miss: Miss | None = None


def reply_to_check(text: str, check: Check) -> CheckReply:
    """The reply; a figure with a unit wins where the check asks for one, then the words of the outcomes, then a number."""
    plain = _apostrophes(" ".join(text.split()))
    if reply_of(plain) is Reply.UNKNOWN:
        return CheckReply(unknown=True)
    exact = _exactly(plain, check)
    if exact is not None:
        return CheckReply(outcome=exact.says[0])
    if check.reading is not None:
        reading = one_reading(plain)
        if reading is not None:
            return CheckReply(reading=reading)
    chosen = _by_number(plain, check)
    if chosen is not None:
        return CheckReply(outcome=chosen.says[0])
    fitting = _holding(_words(plain), check) or _by_stems(plain, check)
    if len(fitting) == 1:
        return CheckReply(outcome=fitting[0].says[0], sure=_covers(plain, fitting[0]))
    return CheckReply(miss=Miss.SEVERAL if fitting else Miss.NOTHING)


def _words(text: str) -> tuple[str, ...]:
    return tuple(_WORD.findall(_apostrophes(text)))


def _apostrophes(text: str) -> str:
    """In small letters, every negation written with its apostrophe, and "isn't" as "is not", which is what sayings say."""
    written = _BARE_NOT.sub(r"\1n't", text.lower().replace("’", "'").replace("cannot", "can't"))
    return _IS_NOT.sub(r"\1 not", written)


def _exactly(plain: str, check: Check) -> CheckOutcome | None:
    """The outcome one of whose sayings is the whole answer, fillers around it left out; yes and no stand for such sayings."""
    words = _words(plain)
    bare = _bare(words)
    for outcome in check.outcomes:
        for saying in outcome.says:
            said = _words(saying)
            if words == said or (bare and bare == _bare(said)):
                return outcome
    reply = reply_of(plain)
    if reply in (Reply.YES, Reply.NO):
        for outcome in check.outcomes:
            if any(reply_of(saying) is reply for saying in outcome.says):
                return outcome
    return None


def _bare(words: tuple[str, ...]) -> tuple[str, ...]:
    return tuple(word for word in words if word not in _FILLERS)


def _by_number(plain: str, check: Check) -> CheckOutcome | None:
    place = place_said(plain, len(check.outcomes))
    return check.outcomes[place - 1] if place else None


def place_said(plain: str, count: int) -> int:
    """The place in a list that was read out: a digit, "two", "the second one", "number two"; 0 for anything else."""
    match = re.fullmatch(r"(?:number |option |the )?([a-z]+|\d)(?: one)?[ .!]*", plain)
    if match is None:
        return 0
    word = match.group(1)
    place = int(word) if word.isdigit() else _ORDINALS.get(word, int(DIGITS.get(word, "0")))
    return place if 1 <= place <= count else 0


def _holding(words: tuple[str, ...], check: Check) -> list[CheckOutcome]:
    """Outcomes whose longest saying found in the answer is the longest of all; a negation that is not in the saying spoils it."""
    best: dict[str, tuple[int, CheckOutcome]] = {}
    negations = _negations(words)
    for outcome in check.outcomes:
        for saying in outcome.says:
            said = _bare(_words(saying)) or _words(saying)
            own = _negations(said)
            if said and own == negations and _contains(words, said):
                length = len(said)
                if length > best.get(outcome.says[0], (0, outcome))[0]:
                    best[outcome.says[0]] = (length, outcome)
    longest = max((length for length, _ in best.values()), default=0)
    return [outcome for length, outcome in best.values() if length == longest]


def _by_stems(plain: str, check: Check) -> list[CheckOutcome]:
    """Outcomes one of whose sayings has all its content words in the answer, in any form and order; most words win."""
    said = {stem(word) for word in _bare(_words(plain))}
    negations = _negations(_words(plain))
    best: dict[str, tuple[int, CheckOutcome]] = {}
    for outcome in check.outcomes:
        for saying in outcome.says:
            wanted = {stem(word) for word in _bare(_words(saying))}
            if wanted and wanted <= said and _negations(_words(saying)) == negations:
                best[outcome.says[0]] = max(best.get(outcome.says[0], (0, outcome)), (len(wanted), outcome), key=_first)
    most = max((count for count, _ in best.values()), default=0)
    return [outcome for count, outcome in best.values() if count == most]


def _covers(plain: str, outcome: CheckOutcome) -> bool:
    """Whether the sayings of the outcome leave at most MOST_LEFT content words of the answer unaccounted for."""
    said = {stem(word) for word in _bare(_words(plain))}
    own = {stem(word) for saying in outcome.says for word in _bare(_words(saying))}
    return len(said - own) <= MOST_LEFT


def _first(pair: tuple[int, CheckOutcome]) -> int:
    return pair[0]


def _negations(words: tuple[str, ...]) -> int:
    return sum(word in _NOT or word.endswith("n't") for word in words)


def _contains(words: tuple[str, ...], part: tuple[str, ...]) -> bool:
    """The words of the saying in their order, with at most fillers between them."""
    bare = _bare(words)
    for among in (words, bare):
        if any(among[i : i + len(part)] == part for i in range(len(among) - len(part) + 1)):
            return True
    return False


def sayings(check: Check) -> tuple[tuple[str, str], ...]:
    """(saying, label of its outcome), for comparing an answer by its sense."""
    return tuple((saying, outcome.says[0]) for outcome in check.outcomes for saying in outcome.says)
