"""Line or draft -> whether every figure, code, designation and sentence stands in the entry cited for it."""

from __future__ import annotations

import dataclasses
import re
from collections.abc import Collection, Iterable, Iterator, Mapping
from functools import lru_cache
from typing import Any

from assistant.domain.answer import Line, Role
from assistant.domain.draft import Draft
from assistant.domain.entries import Entry
from assistant.domain.terms import EntryId, Value
from assistant.rules.phrases import LEADS

_TOKEN = re.compile(r"[\w./%°Ωµ±×:-]*\w[\w./%°Ωµ±×:-]*|[%°Ω±×]")
_FIGURE = re.compile(r"\d")
_GLUE = re.compile(r": | \(|, (?=live\)|running|stopped|isolated)|\)\.?")
"""What the program puts between two authored pieces of one line."""


def figures_in(text: str) -> tuple[tuple[str, str], ...]:
    """Each word with a digit and the word after it (its unit), trailing punctuation taken off."""
    words = [word.rstrip(".,:;?!)") for word in _TOKEN.findall(text)]
    return tuple(
        (word, words[i + 1] if i + 1 < len(words) else "") for i, word in enumerate(words) if _FIGURE.search(word)
    )


def strings_of(item: Any) -> Iterator[str]:
    """Every authored string inside an entry, figures such as minutes included."""
    if isinstance(item, str):
        yield item
    elif isinstance(item, bool) or item is None:
        return
    elif isinstance(item, (int, float)):
        yield f"{item:g}"
    elif isinstance(item, Value):
        from assistant.corpus.figures import format_value

        yield format_value(item)
    elif isinstance(item, (tuple, list)):
        for part in item:
            yield from strings_of(part)
    elif dataclasses.is_dataclass(item):
        for f in dataclasses.fields(item):
            if f.name == "minutes":
                yield f"{getattr(item, f.name):g} min"
            elif f.name not in ("phrasings", "benign", "patterns", "place", "values"):
                yield from strings_of(getattr(item, f.name))


class Authored:
    """What stands in one entry: its sentences, and its figures with their units."""

    def __init__(self, entry: object) -> None:
        """Read the entry, or another authored thing, once."""
        self.sentences = frozenset(strings_of(entry))
        pairs = [pair for text in self.sentences for pair in figures_in(text)]
        self.pairs = frozenset(pairs)
        self.figures = frozenset(figure for figure, _ in pairs) | frozenset(
            text for text in self.sentences if _FIGURE.search(text)
        )

    def holds(self, text: str, besides: Collection[str] = ()) -> bool:
        """Whether every figure of the text stands here, followed by the same word wherever one follows, or is in `besides`."""
        return all(self._holds_part(part, besides) for part in _GLUE.split(text))

    def _holds_part(self, part: str, besides: Collection[str]) -> bool:
        if any(part in sentence for sentence in self.sentences):
            return True
        return all(figure in besides or self._holds_figure(figure, after) for figure, after in figures_in(part))

    def _holds_figure(self, figure: str, after: str) -> bool:
        if figure[0].isalpha():  # a designation, a terminal, a thread: a name carries no unit
            return figure in self.figures or any(figure in sentence for sentence in self.sentences)
        return (figure, after) in self.pairs or (figure in self.figures and self._ends(figure, after))

    def _ends(self, figure: str, after: str) -> bool:
        """A figure may be followed by another word only if it never carries a unit here."""
        followers = {unit for known, unit in self.pairs if known == figure}
        return not after or followers <= {""} or not followers


class Ground:
    """The knowledge as ground truth."""

    def __init__(self, entries: Iterable[Entry], others: Mapping[EntryId, object]) -> None:
        """Keep the entries, and other authored things by the id they are cited by; each is read when first cited."""
        self._entries: dict[EntryId, object] = {entry.full_id: entry for entry in entries}
        self._entries.update(others)
        self._read = lru_cache(maxsize=512)(lambda entry_id: Authored(self._entries[entry_id]))

    def holds_line(self, line: Line, question: str) -> bool:
        """No figure but the user's own, those that a calculation gave, and, in a cited line, those of its entry."""
        own = {figure for figure, _ in figures_in(question)} | set(line.computed)
        if line.source is None or line.role is Role.HEADING:
            return all(figure in own or _all_in(figure, question) for figure, _ in figures_in(line.text))
        if line.source not in self._entries:
            return False
        return self._read(line.source).holds(line.text, own)

    def holds_draft(self, draft: Draft, allowed: Iterable[EntryId]) -> bool:
        """Every sentence verbatim in its entry, that entry among those retrieved, none twice, no lead of its own."""
        entries = set(allowed)
        seen: set[str] = set()
        if draft.lead not in LEADS:
            return False
        for sentence in draft.sentences:
            if sentence.entry not in entries or sentence.entry not in self._entries or sentence.text in seen:
                return False
            if sentence.text not in self._read(sentence.entry).sentences:
                return False
            seen.add(sentence.text)
        return True


def _all_in(figure: str, question: str) -> bool:
    """The digits of a figure, in the question however they were typed ("2-0-4")."""
    digits = re.sub(r"\D", "", figure)
    return bool(digits) and digits in re.sub(r"\D", "", question)
