"""Words -> the row of a machine's tables that they ask for: a wire, a terminal, an input or output, a part, a setting.

It takes a pattern and a name or number of such a row, so that an ordinary question is never taken.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

from assistant.domain.entries import Part, Signal
from assistant.domain.search import Query
from assistant.domain.tables import Conductor, Setting
from assistant.recognition.numbers import DIGITS, TEENS, TENS, tokens_of
from assistant.recognition.spoken_forms import UNITS
from assistant.recognition.wire_forms import terminals_in, wires_in
from assistant.retrieval.analysis import STOPWORDS, stem, terms_of, words_of
from assistant.retrieval.rows import Rows

MOST_WORDS = 18
"""A longer text tells a story; it is a question for the knowledge."""
FEW_WORDS = 4
"""A text of so few words that names a wire or a terminal asks for it without a word of asking."""
MOST_SIGNAL_WORDS = 11
MOST_OF_A_TITLE = 0.6
"""Share of a signal's title, without its address, that names it."""
_WORK = re.compile(
    r"\b(?:why|how|bridg\w*|jump\w*|bypass\w*|short\w*|link(?:ing)?|swap\w*|replac\w*|measur\w*|test\w*|pull(?:ing)?|mov(?:e|ing|ed)|cut(?:ting)?"
    r"|solder\w*|instead|volts?|voltage|amps|reads?|reading|resistance|ohms?|hot|warm|burn\w*|blow\w*|blown|keeps?|tape|colou?r"
    r"|dead|prob(?:e|ing)|lift\w*|first|split\w*|remov\w*|disconnect\w*|loosen\w*|undo|unscrew\w*|take (?:off|out)|model|build)\b",
    re.IGNORECASE,
)
"""Words of work or of a complaint: then it is a question for the knowledge."""
_STATE = re.compile(
    r"\b(?:when|if|dark|dead|off|lit|low|high|flicker\w*|blink\w*|stays?|stuck|won'?t|isn'?t|doesn'?t|does not|not|no|never|always|"
    r"broken|waiting|forc\w*|nobody|although|after|but|because|happens?|look|while|watch\w*)\b",
    re.IGNORECASE,
)
_ASKS = re.compile(
    r"\b(?:where|what|what'?s|which|lands?|go|goes|ends?(?! (?:switch|stop))|connect\w*|belongs?|carr(?:y|ies)|feeds?"
    r"|is there|from|follow|runs?|tell me|comes?"
    r"|terminat\w*|arrives?|sits?|hangs?|show me)\b",
    re.IGNORECASE,
)
_ASKS_SIGNAL = re.compile(
    r"\b(?:what|what'?s|which|where|is for|drives?|switch(?:es)?|connected|wired|belongs?|feeds?|meaning|mean|tell me|is there)\b",
    re.IGNORECASE,
)
_UNKNOWN_SIGNAL = re.compile(r"\b(input|output) (?:number |no )?(\d{1,2})\b", re.IGNORECASE)
_FUSE = re.compile(r"\b(?:which|what) fuse\b", re.IGNORECASE)
_EXISTS = re.compile(r"^is (?:there (?:a )?)?(?:wire|terminal)\b|\bexists?\b", re.IGNORECASE)
_OF = re.compile(
    r"\b(?:which|what|whose) (input|output|terminal|wire|address)s?\b|^(?:the )?(input|output|terminal|wire"
    r"|address)(?: number)? (?:of|for)\b",
    re.IGNORECASE,
)
_PART = re.compile(
    r"\b(?:part|order|ordering|article|stock|item|spare part)s? ?(?:number|no|nr|code)s?\b|\bpartno\b", re.IGNORECASE
)
_SETTING = re.compile(
    r"\b(?:set (?:to|at)|settings?|values?|parameters?|adjusted to|programmed|default|as delivered|factory|range|"
    r"supposed to be|should .{2,30} be|must .{2,30} be|dialled|dialed)\b",
    re.IGNORECASE,
)
_SETTING_WORK = re.compile(
    r"\b(?:why|how (?:do|can|should|to|does)|chang\w*|rais\w*|higher|lower|increas\w*|reduc\w*|turn (?:up|down)|too|wrong|lost"
    r"|stor\w*|sav\w*"
    r"|forg[eo]t\w*|ignor\w*|disabl\w*|switch\w* off|off|defeat\w*|bypass\w*|more than|above|below|check|measur\w*|test\w*|drift\w*|"
    r"does(?:n'?t| not)|not|keeps?|jumps?|after|when|if|and why|sensor|cell|tight|order\w*|actual|real\w*|find|helps?"
    r"|new)\b|^setting (?!of\b)",
    re.IGNORECASE,
)


_LINKING = frozenset("of the on in to a an at for".split())
_PLAIN = frozenset(
    "where what s whats which does do is are the a of on at in from to and wire wires conductor terminal terminals number numbered no it"
    " go goes going land lands end ends come comes sit sits hang hangs other both please me i x d xd pe rail there connected wired belong"
    " belongs carry carries feed feeds run runs".split()
)
_NUMBERS = frozenset((*DIGITS, *TEENS, *TENS, "hundred", "double"))


class Table(StrEnum):
    """Which table is asked."""

    WIRE = "wire"
    TERMINAL = "terminal"
    SIGNAL = "signal"
    FUSE = "fuse"
    PART = "part"
    SETTING = "setting"


@dataclass(frozen=True, slots=True, kw_only=True)
class TableWish:
    """What is asked for: the rows that answer, of any machine in scope; none where the `name` exists nowhere there.

    `name` is the number, terminal or address as it was meant. `beside` are components named with it.
    """

    table: Table
    name: str
    conductors: tuple[Conductor, ...] = ()
    signals: tuple[Signal, ...] = ()
    parts: tuple[Part, ...] = ()
    settings: tuple[Setting, ...] = ()
    beside: tuple[tuple[str, str], ...] = ()

    @property
    def packs(self) -> tuple[str, ...]:
        """The machines that have such a row, sorted."""
        return tuple(
            sorted(
                {row.pack for row in self.conductors}
                | {row.pack for row in self.signals}
                | {row.pack for row in self.parts}
                | {row.pack for row in self.settings}
            )
        )


def _content(text: str) -> tuple[str, ...]:
    """The words of a name that tell it from others, as stems in their order."""
    return tuple(stem(word) for word in words_of(text) if word not in _LINKING)


def _says(said: tuple[str, ...], name: tuple[str, ...]) -> bool:
    """Whether a name is said: a long one in any order, one of two words side by side."""
    if len(name) > 2:
        return set(name) <= set(said)
    runs = (said[i : i + len(name)] for i in range(len(said) - len(name) + 1))
    return any(sorted(run) == sorted(name) for run in runs)


def _named_before_for(text: str, part: Part) -> bool:
    """Whether all that stands before "for" belongs to the part: "lining for the motor" is no motor."""
    head, met, _ = _PART.sub(" ", text.lower()).partition(" for ")
    own = {stem(word) for said in (part.title, part.id, *part.phrasings) for word in words_of(said)}
    return not met or all(word in own for word in _content(head) if word not in STOPWORDS)


def plainly_asked(text: str) -> bool:
    """Whether every word only asks where a wire or terminal goes: such words cannot hold a wish to defeat anything."""
    return all(not token.text.isalpha() or token.text in _PLAIN or token.text in _NUMBERS for token in tokens_of(text))


class TableWishes:
    """Recognises what the tables can answer."""

    def __init__(self, rows: Rows, lexicon: Mapping[str, str]) -> None:
        """Gather the names of the settings; `lexicon` maps the trade's words for one thing to one of them."""
        self._lexicon = lexicon
        self._rows = rows
        self._signals = {signal.id for signal in rows.signals}
        self._setting_names: dict[tuple[str, ...], list[Setting]] = {}
        for setting in rows.settings:
            for name in dict.fromkeys(_content(text) for text in (setting.title, *setting.aliases)):
                self._setting_names.setdefault(name, []).append(setting)

    def wish(self, text: str, query: Query) -> TableWish | None:
        """The row asked for; None for anything else. `query` names the components and the machine in scope."""
        plain = " ".join(text.replace("’", "'").split())
        if not plain or len(plain.split()) > MOST_WORDS:
            return None
        for ask in (
            self._part,
            self._setting,
            self._wire,
            self._terminal,
            self._signal,
            self._fuse,
            self._of_component,
        ):
            found = ask(plain, query)
            if found is not None:
                return found
        return None

    def _wire(self, text: str, query: Query) -> TableWish | None:
        numbers = wires_in(text)
        if not numbers or terminals_in(text) or not self._asked(text):
            return None
        found = [self._in_scope(self._rows.wires(number), query) for number in numbers]
        if len(numbers) > 1 and not all(found):
            return None  # one of several is not there: nothing may be left out in silence
        rows = tuple(row for some in found for row in some)
        return TableWish(table=Table.WIRE, name=numbers[0], conductors=rows, beside=self._components(query))

    def _terminal(self, text: str, query: Query) -> TableWish | None:
        named = terminals_in(text)
        if not named or wires_in(text) or not self._asked(text):
            return None
        found = [self._in_scope(self._rows.on_terminal(item.rail, item.number), query) for item in named]
        if len(named) > 1 and not all(found):
            return None  # one of several is not there: nothing may be left out in silence
        rows = tuple(row for some in found for row in some)
        name = f"{named[0].rail}:{named[0].number}" if named[0].rail else named[0].number
        beside = tuple(key for key in self._components(query) if key[1] != named[0].rail)
        return TableWish(table=Table.TERMINAL, name=name, conductors=rows, beside=beside)

    def _signal(self, text: str, query: Query) -> TableWish | None:
        if not _ASKS_SIGNAL.search(text) or _STATE.search(text) or _WORK.search(text) or _OF.search(text):
            return None
        named = [name for name in query.designations if name in self._signals]
        if len(query.designations) > len(named) or len(named) > 1 or len(text.split()) > MOST_SIGNAL_WORDS:
            return None
        if not named:
            unknown = _UNKNOWN_SIGNAL.search(text)
            if unknown is None or self._measured(text, unknown.end()):
                return None
            return TableWish(table=Table.SIGNAL, name=f"{'I' if unknown[1].lower() == 'input' else 'Q'}{unknown[2]}")
        found = tuple(s for s in self._rows.signals if s.id == named[0] and query.scope in (None, s.pack))
        return TableWish(table=Table.SIGNAL, name=named[0], signals=found)

    def _of_component(self, text: str, query: Query) -> TableWish | None:
        asked = _OF.search(text)
        if asked is None or _WORK.search(text) or _STATE.search(text):
            return None
        what = (asked[1] or asked[2]).lower()
        keys = self._components(query)
        if what in ("wire", "terminal") and (between := self._between(keys)):
            return TableWish(table=Table.WIRE, name=what, conductors=between, beside=keys)
        fitting = [s for s in self._rows.signals if what in (s.direction, "address", "terminal", "wire")]
        signals = tuple(s for s in fitting if (s.pack, s.component) in keys)
        if not signals and what in ("input", "output"):
            signals = self._titled(fitting, query)
        if len({(s.pack, s.component) for s in signals}) > len({s.pack for s in signals}):
            return None  # several components are named, and it is not plain which one is meant
        if what in ("input", "output", "address"):
            return TableWish(table=Table.SIGNAL, name=what, signals=signals, beside=keys) if signals else None
        own = {s.full_id for s in signals}
        rows = tuple(row for row in self._rows.conductors if row.signal in own)
        if not own and len(keys) == 1:
            rows = tuple(row for row in self._rows.at(keys[0][0], (keys[0][1],)) if row.origin == keys[0][1])
        return TableWish(table=Table.WIRE, name=what, conductors=rows, beside=keys) if rows else None

    def _between(self, keys: tuple[tuple[str, str], ...]) -> tuple[Conductor, ...]:
        """The wires that name two components of a machine, one at each end."""
        found = []
        for row in self._rows.conductors:
            ends = [
                {name for pack, name in keys if pack == row.pack and name in end.replace(",", " ").split()}
                for end in (row.origin, row.to)
            ]
            if ends[0] and ends[1] and len(ends[0] | ends[1]) > 1:
                found.append(row)
        return tuple(found)

    def _titled(self, signals: list[Signal], query: Query) -> tuple[Signal, ...]:
        """The one input or output most of whose title is in the question ("film-head cover shut"), in the trade's words."""
        scored = []
        for signal in signals:
            own = set(terms_of(signal.title.partition(", ")[2], self._lexicon))
            shared = own & set(query.terms)
            if query.scope in (None, signal.pack) and len(shared) > 1 and len(shared) / len(own) >= MOST_OF_A_TITLE:
                scored.append((len(shared), signal))
        best = [signal for count, signal in scored if count == max(c for c, _ in scored)]
        return tuple(best) if len(best) == 1 else ()

    def _fuse(self, text: str, query: Query) -> TableWish | None:
        """The fuse that feeds a component, where a wire from a fuse names it."""
        keys = self._components(query)
        if not _FUSE.search(text) or _WORK.search(text) or _STATE.search(text) or len({name for _, name in keys}) != 1:
            return None
        rows = tuple(
            row
            for pack, name in keys
            for row in self._rows.at(pack, (name,))
            if row.origin.startswith("FC") and name in row.to.replace(",", " ").split()
        )
        if len({(row.pack, row.origin) for row in rows}) > len({row.pack for row in rows}):
            return None  # several fuses feed it, each something else of it
        return TableWish(table=Table.FUSE, name="fuse", conductors=rows, beside=keys) if rows else None

    def _part(self, text: str, query: Query) -> TableWish | None:
        if not _PART.search(text):
            return None
        stems = {stem(word) for word in words_of(text)}
        keys = self._components(query)
        scored = []
        for part in self._rows.parts:
            if query.scope not in (None, part.pack):
                continue
            names = ([stem(w) for w in words_of(text)] for text in (part.title, part.id))
            shared = max(sum(1 for word in own if word in stems) / len(own) for own in names)
            fits = any((part.pack, name) in keys for name in part.fits)
            scored.append((shared + 0.5 * fits, shared, part))
        best = max((score for score, _, _ in scored), default=0.0)
        found = tuple(part for score, shared, part in scored if score == best and (shared == 1 or score > 1))
        if not found or len(found) > len({part.pack for part in found}):
            return None
        if not all(_named_before_for(text, part) for part in found):
            return None
        return TableWish(table=Table.PART, name=found[0].title, parts=found)

    def _setting(self, text: str, query: Query) -> TableWish | None:
        if not _SETTING.search(text) or _SETTING_WORK.search(text):
            return None
        said = _content(text)
        named = [
            (len(name), setting)
            for name, settings in self._setting_names.items()
            if _says(said, name)
            for setting in settings
            if query.scope in (None, setting.pack)
        ]
        most = max((words for words, _ in named), default=0)
        found = {setting.full_id: setting for words, setting in named if words == most}
        if not found or len(found) > len({setting.pack for setting in found.values()}):
            return None  # none is named, or several of one machine equally
        return TableWish(table=Table.SETTING, name=next(iter(found.values())).title, settings=tuple(found.values()))

    # --- shared

    @staticmethod
    def _asked(text: str) -> bool:
        if _WORK.search(text):
            return False
        return bool(_ASKS.search(text) or _EXISTS.search(text)) or len(words_of(text)) <= FEW_WORDS

    @staticmethod
    def _measured(text: str, end: int) -> bool:
        after = text[end:].split()
        return bool(after) and after[0].lower() in UNITS

    @staticmethod
    def _in_scope(rows: tuple[Conductor, ...], query: Query) -> tuple[Conductor, ...]:
        return tuple(row for row in rows if query.scope in (None, row.pack))

    def _components(self, query: Query) -> tuple[tuple[str, str], ...]:
        """The components named, as (pack, designation), those named exactly first."""
        entries = [entry.split("/") for entry in (*query.exact, *query.aliased)]
        keys = [(parts[0], parts[2]) for parts in entries if parts[1] == "component"]
        return tuple(dict.fromkeys(key for key in keys if key in self._rows.components))
