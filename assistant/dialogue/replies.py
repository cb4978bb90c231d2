"""Words -> yes, no, don't know, or a choice from what is pending."""

from __future__ import annotations

import re
from enum import StrEnum

from assistant.domain.knowledge import Machine
from assistant.domain.turn import Pending, PendingKind

QUESTION_WORDS = "is|are|was|when|where|why|how|what|which|who|should|must|can|could|may|do|does|did|will"
"""Words that open a question, as alternatives of a pattern."""
_QUESTION = re.compile(rf"\?\s*$|^(?:{QUESTION_WORDS})\b", re.IGNORECASE)


class Reply(StrEnum):
    """What a short answer means."""

    YES = "yes"
    NO = "no"
    UNKNOWN = "unknown"


_YES = re.compile(
    r"^(?:yes|yep|yeah|yup|aye|y|ok|okay|done|it is|it has|i have|confirmed?|affirmative|correct|sure|all done|both)[ .!,]*(?:it is|it has|i have|done|sir|confirmed)?[ .!]*$"
)
_NO = re.compile(
    r"^(?:no|nope|nah|n|not yet|not|negative|it is not|it isn'?t|i have not|i haven'?t|wait|hold on)[ .!,]*(?:it is not|not yet|i have not|i haven'?t)?[ .!]*$"
)
_UNKNOWN = re.compile(r"^(?:(?:i )?(?:don'?t|do not) know|not sure|no idea|dunno|can'?t (?:say|tell)|maybe|perhaps|i think so)[ .!]*$")  # fmt: skip


def reply_of(text: str) -> Reply | None:
    """Yes, no or don't know when the utterance is that and nothing else."""
    plain = " ".join(text.lower().replace("’", "'").split())
    if _UNKNOWN.search(plain):
        return Reply.UNKNOWN
    if _NO.search(plain):
        return Reply.NO
    if _YES.search(plain):
        return Reply.YES
    return None


_WAITED = re.compile(
    r"^(?:(?:ok(?:ay)?|right|yes|yep|yeah|aye)[ ,.]*)?(?:(?:i|we)(?:'ve| have)? )?(?:waited|sat it out|(?:it'?s|it is|that'?s|it has) been (?:more than |over |well over |at least )?"
    r"(?:off |dead |locked (?:off|out) )?[a-z0-9 ]{1,24}(?:min(?:ute)?s?|hours?)|[a-z0-9 ]{1,24}(?:min(?:ute)?s?|hours?) (?:have |has |are |is )?(?:passed|gone(?: by)?|over|up|done)"
    r"|(?:it (?:was|went|has been) |(?:i|we) )?(?:switched |locked |turned )?(?:it )?(?:off|out) [a-z0-9 ]{1,24}(?:min(?:ute)?s?|hours?) ago"
    r"|the (?:wait|time) is (?:over|up))(?: [a-z0-9 ]{1,40})?[ .!]*$"
)
_NOT_WAITED = re.compile(r"\b(?:not|n't|only|just|but|nearly|almost|will|going to|without)\b")
_HOW_LONG = re.compile(r"^(?:and )?how (?:long|much longer|much time|many minutes)\b.{0,30}$|^(?:time|minutes) left\b")


def waited(text: str) -> bool:
    """Whether it is said in so many words that the wait is over; a plain yes is not that."""
    plain = " ".join(text.lower().replace("’", "'").split())
    return bool(_WAITED.search(plain)) and not _NOT_WAITED.search(plain)


def asks_how_long(text: str) -> bool:
    """Whether it is asked how much of the wait is left."""
    return bool(_HOW_LONG.search(" ".join(text.lower().split()).rstrip("?.! ")))


_DONE = re.compile(
    r"^(?:(?:ok(?:ay)?|right|yes|yep|yeah)[ ,.]*)?(?:(?:it'?s |that'?s |i'?m |i am |all |everything(?:'s| is) )?(?:done|finished|complete|completed|fitted|fixed|replaced|changed|cleaned|tightened|repaired|set|ready|sorted|in)|i(?:'ve| have) (?:done|fitted|changed|replaced|cleaned|fixed|tightened|set) (?:it|that|this|them)|(?:done|did) (?:it|that))(?: now| and seen)?[ .!]*$"
)
_NOT_DONE = re.compile(
    r"^(?:it'?s |i'?m )?(?:not|isn'?t|haven'?t)(?: yet)?(?: done| finished| ready)?(?: yet)?[ .!]*$|^(?:not done|undone)[ .!]*$"
)
_GONE = re.compile(
    r"^(?:yes[ ,.]*|ok[ ,.]*)?(?:(?:it'?s|it is|the (?:fault|complaint|problem|code)(?: is|'s)|that'?s) )?(?:gone|cured|fixed|good|fine|passed|ok(?:ay)?|cleared|it passed|(?:it )?(?:works|runs|ran|starts|turns)(?: (?:now|fine|well|again|ok|good))*|all good|no (?:more )?(?:fault|code|problem)s?|working(?: (?:again|now|fine))*|running(?: (?:again|now|fine|well))+)[ .!]*$"
)
_STILL = re.compile(
    r"^(?:no[ ,.]*)?(?:(?:it'?s|it is|the (?:fault|complaint|problem|code)(?: is|'s)|that'?s) )?(?:still (?:there|the same|faulty|dead|stops|trips|fails|not (?:right|working|gone))|(?:the )?same(?: (?:again|fault|thing|as before))?|not (?:gone|cured|fixed|good|working)|failed|it failed|(?:it )?(?:came|comes) back|back again|no (?:change|better|difference|good)|(?:it )?(?:does ?n[o']?t|did ?n[o']?t|won'?t) (?:work|run|start|turn|pass)|happened again)[ .!]*$"
)


def done_said(text: str) -> bool | None:
    """Whether work is said to be done; None for something else."""
    plain = " ".join(text.lower().replace("’", "'").split())
    if _NOT_DONE.search(plain) or reply_of(plain) is Reply.NO:
        return False
    return True if _DONE.search(plain) or reply_of(plain) is Reply.YES else None


def passed_said(text: str) -> bool | None:
    """Whether the complaint is said to be gone; None for something else."""
    plain = " ".join(text.lower().replace("’", "'").split())
    if _STILL.search(plain) or reply_of(plain) is Reply.NO:
        return False
    return True if _GONE.search(plain) or reply_of(plain) is Reply.YES else None


def machine_of(text: str, pending: Pending | None, machines: tuple[Machine, ...]) -> str | None:
    """The pack chosen by name, alias or number when the machine is asked for; None otherwise."""
    if pending is None or pending.kind is not PendingKind.MACHINE:
        return None
    plain = " ".join(re.sub(r"[^\w\s]", " ", text.lower()).split())
    offered = [m for m in machines if m.name in pending.choices]
    if plain.isdigit() and 1 <= int(plain) <= len(offered):
        return offered[int(plain) - 1].pack
    for machine in offered:
        names = {machine.name.lower(), machine.pack, *(alias.lower() for alias in machine.aliases)}
        if plain in names or any(plain == f"the {name}" for name in names):
            return machine.pack
    return None


def is_question(text: str) -> bool:
    """Whether a text asks: by its first word or its mark."""
    return _QUESTION.search(text) is not None
