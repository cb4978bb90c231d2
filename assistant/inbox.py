"""Questions that found nothing or were marked wrong -> a local file that the author turns into cases; nothing is sent."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import msgspec

from assistant.domain.answer import Answer, Outcome
from assistant.errors import AssistantError

INBOX = "inbox.jsonl"
"""Its name in the data folder."""
NOT_COVERED = "not covered"
MARKED_WRONG = "marked wrong"


class InboxError(AssistantError):
    """The inbox cannot be read or written."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Letter:
    """One question as it was asked: the machine in scope, what came of it, its first entries, why it is here, a remark."""

    question: str
    machine: str
    outcome: str
    first: tuple[str, ...]
    reason: str
    remark: str = ""
    day: str = ""


class Inbox:
    """A file of letters, a line each, only ever appended to until the author takes them out."""

    def __init__(self, path: Path) -> None:
        """Nothing is read or made yet."""
        self.path = path

    def keep_if_lost(self, answer: Answer, day: str) -> bool:
        """Keep a question that was not covered."""
        if answer.outcome is not Outcome.NOT_COVERED:
            return False
        self.keep(letter_of(answer, NOT_COVERED, "", day))
        return True

    def keep(self, letter: Letter) -> None:
        """Append one, unless the same question with the same reason is there.

        Raises:
            InboxError: it cannot be written.

        """
        if any(
            (o.question, o.machine, o.reason) == (letter.question, letter.machine, letter.reason)
            for o in self.letters()
        ):
            return
        try:
            self.path.parent.mkdir(parents=True, exist_ok=True)
            with self.path.open("ab") as file:
                file.write(msgspec.json.encode(letter) + b"\n")
        except OSError as error:
            raise InboxError(
                f"The inbox {self.path} cannot be written: {error.strerror}.", "Check its rights."
            ) from error

    def letters(self) -> tuple[Letter, ...]:
        """All letters, oldest first.

        Raises:
            InboxError: it cannot be read, or a line is broken.

        """
        try:
            lines = self.path.read_bytes().splitlines()
        except FileNotFoundError:
            return ()
        except OSError as error:
            raise InboxError(f"The inbox {self.path} cannot be read: {error.strerror}.", "Check its rights.") from error
        found = []
        for number, line in enumerate(lines, start=1):
            try:
                found.append(msgspec.json.decode(line, type=Letter))
            except msgspec.MsgspecError as error:
                raise InboxError(f"{self.path}:{number}: {error}", "Mend or remove that line.") from error
        return tuple(found)

    def remove(self, letter: Letter) -> None:
        """Take one out; the file is replaced whole.

        Raises:
            InboxError: it cannot be written.

        """
        rest = [other for other in self.letters() if other != letter]
        partial = self.path.with_suffix(".part")
        try:
            partial.write_bytes(b"".join(msgspec.json.encode(other) + b"\n" for other in rest))
            partial.replace(self.path)
        except OSError as error:
            raise InboxError(
                f"The inbox {self.path} cannot be written: {error.strerror}.", "Check its rights."
            ) from error


def letter_of(answer: Answer, reason: str, remark: str, day: str) -> Letter:
    """An answered question as a letter to the author."""
    return Letter(
        question=answer.question,
        machine=answer.machine or "",
        outcome=str(answer.outcome),
        first=tuple(str(hit.entry) for hit in answer.hits[:3]),
        reason=reason,
        remark=remark,
        day=day,
    )
