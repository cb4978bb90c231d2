"""Questions -> the same questions as they come in: mistyped, cut short, turned round, in another English.

A perturbation is a pure function of the text and a source of chance; None where it cannot apply. Unless it is about
figures, a result in which a code, a number or a designation has changed counts as not applicable.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from random import Random

import yaml

from assistant.corpus.lint import normal
from assistant.recognition.numbers import DIGITS, TEENS, TENS
from assistant.recognition.spoken_forms import CLASS_NOUNS, LETTER_NAMES, NATO, codes_in

Change = Callable[[str, Random], str | None]

PAIRS = Path(__file__).with_name("robustness_pairs.yaml")
WORDS_A_FAULT = 8
"""One typing fault for so many words, one at least."""
LEAST_LETTERS = 4
"""Shorter words are not mistyped: nothing would be left of them."""
NUMBER_WORDS = frozenset((*DIGITS, *TEENS, *TENS, "hundred", "double"))
NEGATIONS = frozenset(
    "no not never none nothing without cannot cant can't dont don't wont won't isnt isn't doesnt doesn't".split()
)
FUNCTION_WORDS = frozenset(
    "a an the this that these those is are was were be been am do does did have has had can could should would will shall"
    " may might must i me my we us our you your he she it its it's they them their to of at by for with from as and or but"
    " what which who how when where why there here please just so then than some any".split()
)
"""What is left out of a telegram; particles such as off, on, up and all negations stay, because they carry the meaning."""
FRAME = re.compile(
    r"^(?:(?:hi|hello|hey|ok|please|sorry)[,. ]+)*(?:(?:can|could|would) (?:you|i|someone|we)(?: please)?(?: tell me)?|how (?:do|can|should|must) (?:i|we|you)"
    r"|what (?:is|are|does|do)|where (?:is|are|do i)|why (?:is|are|does|do)|is there|do i (?:need|have) to|tell me|i (?:want|need) to) ",
    re.IGNORECASE,
)
CLAUSE = re.compile(
    r"(?:\s*[,;:]\s+|\s+(?=(?:when|if|because|after|before|while|but|since|although|as soon as|and then)\s))",
    re.IGNORECASE,
)
KEYS = ("qwertyuiop", "asdfghjkl", "zxcvbnm")
_WORD = re.compile(r"(?<![\w'-])[A-Za-z][A-Za-z']*(?![\w'-])")
_FIGURE = re.compile(r"\b\w*\d\w*\b")


@dataclass(frozen=True, slots=True, kw_only=True)
class Perturbation:
    """A kind of change; `about_figures` where it may write a code or designation another way."""

    name: str
    what: str
    change: Change
    about_figures: bool = False

    def apply(self, text: str, chance: Random) -> str | None:
        """The changed text, or None where nothing could be changed, nothing is left, or a figure would be another."""
        changed = self.change(text, chance)
        if changed is None or not normal(changed) or changed == text:
            return None
        kept = self.about_figures or figures_of(changed) == figures_of(text)
        return changed if kept else None


def figures_of(text: str) -> tuple[tuple[str, ...], ...]:
    """Codes as recognised, words with a digit and number words, each sorted: what must not change."""
    words = normal(text).split()
    spelled = (w for i, w in enumerate(words) if is_letter_of_designation(words, i))
    return (
        tuple(sorted(mention.digits for mention in codes_in(text))),
        tuple(sorted(m.group() for m in _FIGURE.finditer(text.lower()))),
        tuple(sorted(word for word in words if word in NUMBER_WORDS)),
        tuple(sorted(spelled)),
    )


def is_number(word: str) -> bool:
    """Whether a lower-case word is a number or part of one."""
    return word in NUMBER_WORDS or any(c.isdigit() for c in word)


def is_letter_of_designation(words: Sequence[str], i: int) -> bool:
    """Whether word i belongs to a number that follows it: a letter, its name, or a noun such as fuse."""
    word = words[i]
    letter = len(word) <= 2 or word in LETTER_NAMES or word in NATO
    ahead = words[i + 1 : i + 3] if letter else words[i + 1 : i + 2]
    return (letter or word in CLASS_NOUNS) and any(is_number(w) for w in ahead)


def places_of(text: str, wanted: Callable[[str], bool]) -> list[re.Match[str]]:
    """The words that may be changed and are wanted (by their lower-case form)."""
    found = list(_WORD.finditer(text))
    words = [m.group().lower() for m in found]
    followed = [*(_following(text, found, i) for i in range(len(found)))]
    return [
        m
        for i, m in enumerate(found)
        if wanted(words[i]) and not is_number(words[i]) and not is_letter_of_designation([words[i], *followed[i]], 0)
    ]


def _following(text: str, found: Sequence[re.Match[str]], i: int) -> list[str]:
    return normal(text[found[i].end() :]).split()[:2]


def replaced(text: str, places: Sequence[re.Match[str]], change: Callable[[str], str]) -> str:
    """The text with each of these words changed."""
    for place in sorted(places, key=lambda m: -m.start()):
        text = text[: place.start()] + change(place.group()) + text[place.end() :]
    return " ".join(text.split())


def some_of(text: str, places: Sequence[re.Match[str]], chance: Random) -> list[re.Match[str]]:
    """One place for `WORDS_A_FAULT` words, one at least, in the order of the text."""
    count = min(len(places), max(1, len(text.split()) // WORDS_A_FAULT))
    return sorted(chance.sample(list(places), count), key=lambda m: m.start())


def typo(fault: Callable[[str, Random], str]) -> Change:
    """A fault of typing in some of the longer words."""

    def change(text: str, chance: Random) -> str | None:
        places = places_of(text, lambda word: len(word) >= LEAST_LETTERS and word not in NEGATIONS)
        return replaced(text, some_of(text, places, chance), lambda word: fault(word, chance)) if places else None

    return change


def neighbour_key(word: str, chance: Random) -> str:
    """A letter taken for one beside it on a QWERTY keyboard."""
    places = [i for i, c in enumerate(word) if neighbours_of(c.lower())]
    i = chance.choice(places)
    return word[:i] + chance.choice(neighbours_of(word[i].lower())) + word[i + 1 :]


def neighbours_of(letter: str) -> str:
    """Keys to the left and right, and those that touch from the row above and below."""
    for row, keys in enumerate(KEYS):
        place = keys.find(letter)
        if place >= 0:
            beside = [keys[i] for i in (place - 1, place + 1) if 0 <= i < len(keys)]
            above = KEYS[row - 1][place : place + 2] if row else ""
            below = KEYS[row + 1][max(0, place - 1) : place + 1] if row + 1 < len(KEYS) else ""
            return "".join(beside) + above + below
    return ""


def transposed(word: str, chance: Random) -> str:
    """Two neighbouring letters that differ, swapped; a word of one letter only stays."""
    places = [i for i in range(len(word) - 1) if word[i] != word[i + 1]]
    if not places:
        return word
    i = chance.choice(places)
    return word[:i] + word[i + 1] + word[i] + word[i + 2 :]


def doubled_or_dropped(word: str, chance: Random) -> str:
    """A letter typed twice, or not at all."""
    i = chance.randrange(len(word))
    return word[:i] + chance.choice((word[i] * 2, "")) + word[i + 1 :]


def without_function_words(text: str, chance: Random) -> str | None:
    """Every function word left out; None where fewer than two words stay."""
    places = places_of(text, FUNCTION_WORDS.__contains__)
    kept = replaced(text, places, lambda word: "")
    return kept if places and len(normal(kept).split()) >= 2 else None


def without_a_content_word(text: str, chance: Random) -> str | None:
    """One content word left out."""
    places = places_of(text, lambda word: word not in FUNCTION_WORDS | NEGATIONS)
    if len(places) < 2:
        return None
    return replaced(text, [chance.choice(places)], lambda word: "")


def clauses_turned(text: str, chance: Random) -> str | None:
    """The part after a comma or a conjunction said first."""
    cuts = [m for m in CLAUSE.finditer(text) if m.start() > 0 and m.end() < len(text)]
    if not cuts:
        return None
    cut = chance.choice(cuts)
    first, second = text[: cut.start()].strip(" .?!"), text[cut.end() :].strip(" .?!")
    return f"{second}, {first}" if first and second else None


def telegram(text: str, chance: Random) -> str | None:
    """The question without its frame, its function words, its capitals and its punctuation."""
    bare = FRAME.sub("", text.strip())
    short = replaced(bare, places_of(bare, FUNCTION_WORDS.__contains__), lambda word: "")
    words = re.sub(r"[?!,;]|\.(?=\s|$)", " ", short).split()
    told = " ".join(word if any(c.isdigit() for c in word) else word.lower() for word in words)
    return told if len(words) >= 2 and normal(told) != normal(text) else None


def other_english(pairs: Sequence[tuple[str, str]]) -> Change:
    """Every word of the first kind said in the other, longest first, each place once."""
    table = dict(pairs)
    pattern = re.compile(
        r"\b(?:" + "|".join(map(re.escape, sorted(table, key=lambda w: (-len(w), w)))) + r")\b", re.IGNORECASE
    )

    def change(text: str, chance: Random) -> str | None:
        changed = pattern.sub(lambda m: table[m.group().lower()], text)
        return changed if changed != text else None

    return change


def read_pairs(path: Path = PAIRS) -> tuple[tuple[tuple[str, str], ...], tuple[tuple[str, str], ...]]:
    """(British, American) pairs that go both ways, and those that go to American only."""
    data = yaml.safe_load(path.read_text(encoding="utf-8"))
    both, one_way = (tuple((str(b), str(a)) for b, a in data[key]) for key in ("pairs", "one_way"))
    return both, one_way


def written_kinds() -> tuple[Perturbation, ...]:
    """The perturbations of written questions."""
    both, one_way = read_pairs()
    return (
        Perturbation(name="neighbour key", what="typing", change=typo(neighbour_key)),
        Perturbation(name="letters swapped", what="typing", change=typo(transposed)),
        Perturbation(name="letter doubled or lost", what="typing", change=typo(doubled_or_dropped)),
        Perturbation(name="no function words", what="words left out", change=without_function_words),
        Perturbation(name="a content word lost", what="words left out", change=without_a_content_word),
        Perturbation(name="clauses turned", what="word order", change=clauses_turned),
        Perturbation(name="telegram", what="word order", change=telegram),
        Perturbation(name="to American", what="other English", change=other_english((*both, *one_way))),
        Perturbation(name="to British", what="other English", change=other_english([(a, b) for b, a in both])),
    )
