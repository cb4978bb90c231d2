"""What was said of a check -> one of its outcomes, a reading, don't know, or nothing that fits."""

from __future__ import annotations

import re
from dataclasses import dataclass
from enum import StrEnum

from assistant.dialogue.replies import Reply, reply_of
from assistant.domain.entries import Check, CheckOutcome
from assistant.recognition.numbers import DIGITS
from assistant.recognition.readings import Reading, readings_in

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
    }
)
_ORDINALS = {"first": 1, "second": 2, "third": 3, "fourth": 4, "fifth": 5}
_FILLERS = frozenset(
    "it it's its is was are were the a an they they're that that's looks look seems seem still just quite rather very well so and there there's all i we get got have see saw hear find found says said shows read reads reading about um uh er".split()
)
"""Words that a short answer is wrapped in."""


class Miss(StrEnum):
    """Why an answer was not taken."""

    NOTHING = "fits no outcome"
    SEVERAL = "fits several outcomes"


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckReply:
    """Exactly one of: an outcome's label, a reading, don't know, or why nothing was taken."""

    outcome: str = ""
    reading: Reading | None = None
    unknown: bool = False
    miss: Miss | None = None


def reply_to_check(text: str, check: Check) -> CheckReply:
    """The reply; a figure with a unit wins where the check asks for one, then the words of the outcomes, then a number."""
    plain = " ".join(text.lower().replace("’", "'").split())
    if reply_of(plain) is Reply.UNKNOWN:
        return CheckReply(unknown=True)
    exact = _exactly(plain, check)
    if exact is not None:
        return CheckReply(outcome=exact.says[0])
    if check.reading is not None:
        readings = readings_in(plain)
        if len(readings) == 1:
            return CheckReply(reading=readings[0])
    chosen = _by_number(plain, check)
    if chosen is not None:
        return CheckReply(outcome=chosen.says[0])
    fitting = _holding(_words(plain), check)
    if len(fitting) == 1:
        return CheckReply(outcome=fitting[0].says[0])
    return CheckReply(miss=Miss.SEVERAL if fitting else Miss.NOTHING)


def _words(text: str) -> tuple[str, ...]:
    return tuple(_WORD.findall(text.lower().replace("’", "'")))


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
    """The place in the list that was read out: a digit, "two", "the second one", "number two"."""
    match = re.fullmatch(r"(?:number |option |the )?([a-z]+|\d)(?: one)?[ .!]*", plain)
    if match is None:
        return None
    word = match.group(1)
    place = int(word) if word.isdigit() else _ORDINALS.get(word, int(DIGITS.get(word, "0")))
    return check.outcomes[place - 1] if 1 <= place <= len(check.outcomes) else None


def _holding(words: tuple[str, ...], check: Check) -> list[CheckOutcome]:
    """Outcomes whose longest saying found in the answer is the longest of all; a negation that is not in the saying spoils it."""
    best: dict[str, tuple[int, CheckOutcome]] = {}
    negations = sum(word in _NOT or word.endswith("n't") for word in words)
    for outcome in check.outcomes:
        for saying in outcome.says:
            said = _bare(_words(saying)) or _words(saying)
            own = sum(word in _NOT or word.endswith("n't") for word in said)
            if said and own == negations and _contains(words, said):
                length = len(said)
                if length > best.get(outcome.says[0], (0, outcome))[0]:
                    best[outcome.says[0]] = (length, outcome)
    longest = max((length for length, _ in best.values()), default=0)
    return [outcome for length, outcome in best.values() if length == longest]


def _contains(words: tuple[str, ...], part: tuple[str, ...]) -> bool:
    """The words of the saying in their order, with at most fillers between them."""
    bare = _bare(words)
    for among in (words, bare):
        if any(among[i : i + len(part)] == part for i in range(len(among) - len(part) + 1)):
            return True
    return False
