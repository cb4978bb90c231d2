"""Words that steer guided work -> a command; only when the utterance is that and nothing else."""

from __future__ import annotations

import re
from dataclasses import dataclass
from enum import StrEnum


class Command(StrEnum):
    """What can be asked of the guide at any time."""

    GUIDE = "guide"
    NEXT = "next"
    BACK = "back"
    REPEAT = "repeat"
    WHERE = "where was I"
    SKIP = "skip"
    HOW_FAR = "how far"
    WHY = "why"
    ELSE = "what else"
    STOP = "stop and keep"
    FOUND = "found it"
    AGAIN = "check again"
    STEPS = "steps"


@dataclass(frozen=True, slots=True, kw_only=True)
class Said:
    """A command, and what was said with it ("found it: the fuse was blown")."""

    command: Command
    rest: str = ""


_POLITE = r"(?:ok(?:ay)?[ ,]*|please[ ,]*|right[ ,]*|now[ ,]*|hand ?lamp[ ,]*|can you |could you )*"
_END = r"(?: please| then| now)?[ .!?]*$"
_WHOLE: tuple[tuple[Command, str], ...] = (
    (Command.GUIDE, r"(?:guide|lead|walk|talk|take|help) me(?: through(?: it| this| that| the steps?)?| along| find it| find (?:the|this) (?:fault|cause)| with (?:it|this|that))?|(?:find|hunt|isolate|track down) (?:the|this|that) (?:fault|cause)|step by step|one step at a time|start (?:the )?(?:checks|steps|hunt|procedure)|let'?s (?:do|find|start|go through) (?:it|this|that)(?: together)?|check by check"),
    (Command.NEXT, r"next(?: one| step| check)?|go on|carry on|continue|move on|onwards?|what(?:'?s| is) next|what now|and then|then what|ready"),
    (Command.BACK, r"back|go back|previous(?: step| check| one)?|one back|undo(?: that)?|step back"),
    (Command.REPEAT, r"repeat(?: that| it)?|again|say (?:that|it) again|say again|once more|one more time|pardon|sorry\??|what\??|what was that|come again|didn'?t (?:catch|hear|get) (?:that|it)|i (?:did not|didn'?t) (?:hear|catch|get) (?:that|it)|read (?:it|that) again"),
    (Command.WHERE, r"where (?:was|am|were) (?:i|we)(?: up to| at)?|what (?:was i|am i) (?:doing|on|to do)|which step(?: is it| am i (?:on|at)| was (?:it|i (?:on|at)))?|what step(?: am i (?:on|at))?|where did i (?:stop|leave off)"),
    (Command.SKIP, r"skip(?: it| that| this)?(?: one| step| check)?|leave (?:it|that|this) out|pass(?: on (?:it|that|this))?|can'?t (?:check|do|reach|get (?:at|to)|measure|test) (?:it|that|this)(?: here| now)?|(?:i )?(?:can'?t|cannot|can not|am not able to|am not allowed to|may not)(?: check| do| reach| measure| test)?(?: it| that| this)?(?: here| now)?|not (?:possible|allowed)(?: here)?|no (?:tool|meter|access|part|spare)s?(?: (?:for (?:it|that|this)|here|with me))?|(?:i )?(?:haven'?t|have not|don'?t have) (?:got )?(?:a |the |that |any )?(?:tool|meter|part|spare)s?"),
    (Command.HOW_FAR, r"how far(?: (?:are we|am i|along|is it))?|how (?:much|many)(?: steps?| more| longer)?(?: (?:is|are))?(?: (?:left|more|to go|remain(?:ing)?))?|how long(?: (?:is )?(?:left|to go|still|more|will it take|does it take|to the end))?|are we nearly there|progress"),
    (Command.WHY, r"why(?: (?:that|this|it))?(?: (?:one|check|step))?|why (?:should|do|must) i(?: (?:do|check|look at))?(?: (?:that|this|it))?|what for|what(?:'?s| is| has been| have we)(?: now)? ruled out(?: (?:now|so far|and why|by what))?|(?:which|what) causes? (?:is|are) (?:ruled )?out(?: now)?|what can(?:'?t| ?not) it be(?: any ?more)?|what(?:'?s| is) (?:that|this|it) for|what does (?:that|this|it) (?:tell|show)(?: (?:me|us))?|explain(?: (?:that|this|it))?"),
    (Command.ELSE, r"what else(?: (?:could|can) (?:it|i|we)(?: be| do| check)?| is there| is possible)?|anything else|something else|other (?:checks|causes|options|ideas)|what are the (?:others|other causes|options)|list (?:the )?(?:causes|checks|options)|which causes(?: are left| remain)?|what(?:'?s| is) (?:left|likely)(?: now)?|what do you think(?: it is)?"),
    (Command.STOP, r"stop(?: and keep(?: it)?| here| there| for (?:now|today)| the (?:hunt|guide|procedure|work)| guiding)?|pause(?: here| there)?|leave it(?: there| here| for now| like that)?|keep (?:it|that)(?: and stop)?|(?:i'?ll )?(?:carry on|continue|finish(?: it)?) (?:later|tomorrow)|break off|enough for (?:now|today)|i have to (?:go|leave|stop)|done for today"),
    (Command.AGAIN, r"(?:check|look|measure|test) (?:it |that |this )?(?:again|once more)|retake(?: it| that| this)?|let me (?:check|look|measure)(?: it| that)? again|re-?check(?: it| that)?"),
    (Command.STEPS, r"(?:the |show (?:me )?the |give me the |read (?:me )?the )?steps|how (?:do|should) i (?:do|repair|fix|replace|change) (?:it|that|this)|how(?: to| do i)?"),
)  # fmt: skip
_COMPILED = tuple(
    (command, re.compile(rf"^{_POLITE}(?:{pattern}){_END}", re.IGNORECASE)) for command, pattern in _WHOLE
)
_FOUND = re.compile(
    rf"^{_POLITE}(?:i(?:'ve| have)? (?:have )?|we(?:'ve| have)? )?(?:found it|found the (?:fault|cause|problem)|got it|see it now)\b[ :,.-]*(?P<rest>.*)$",
    re.IGNORECASE,
)
_FOUND_IS = re.compile(r"^(?:it(?:'s| is| was)|that(?:'s| is| was))\s+(?P<rest>.+?)[ .!]*$", re.IGNORECASE)
_GUIDE_THEN = re.compile(
    rf"^{_POLITE}(?:guide|lead|walk|talk|take) me (?:through )(?P<rest>.{{6,}})$|^{_POLITE}(?P<rest2>.{{6,}}?)[ ,.;:]+(?:guide|lead|walk|talk|take) me through(?: it| this| that)?{_END}",
    re.IGNORECASE,
)
_CORRECTION = re.compile(
    r"^(?:no[ ,]+wait|wait|hang on|hold on|sorry|correction|i meant|i mean|actually|no[ ,]+sorry|scratch that|make that|my mistake|i was wrong)[ ,.:-]*"
    r"(?:no[ ,]+|sorry[ ,]+|actually[ ,]+|it was[ ,]+|it is[ ,]+|it'?s[ ,]+|that (?:was|is)[ ,]+|make that[ ,]+|i meant[ ,]+)*(?P<rest>.+)$",
    re.IGNORECASE,
)


def command_of(text: str) -> Said | None:
    """The command, or None for anything else."""
    plain = " ".join(text.replace("’", "'").split())
    for command, pattern in _COMPILED:
        if pattern.match(plain):
            return Said(command=command)
    found = _FOUND.match(plain)
    if found:
        rest = found.group("rest").strip(" .!")
        inner = _FOUND_IS.match(rest)
        return Said(command=Command.FOUND, rest=inner.group("rest") if inner else rest)
    return None


def guide_to(text: str) -> str:
    """What somebody wants to be led through ("walk me through setting the chain"), "" when that is not the wish."""
    match = _GUIDE_THEN.match(" ".join(text.replace("’", "'").split()))
    return (match.group("rest") or match.group("rest2") or "").strip(" .!?") if match else ""


def correction_of(text: str) -> str:
    """What an earlier answer is replaced by ("no wait, it was on" -> "on"), "" when nothing is corrected."""
    match = _CORRECTION.match(" ".join(text.replace("’", "'").split()))
    return match.group("rest").strip(" .!") if match else ""
