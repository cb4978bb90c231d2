"""Every error that a user can meet, each with what happened and what to do.

AssistantError
├── KnowledgeError      authored files that cannot be used; carries every fault found
├── IndexFailure       the search index cannot be built, read or written
├── ModelError          a model file is missing, corrupt or cannot be loaded
│   └── ModelMissing    it is not installed; the next best path is taken
├── SoundError          a sound file or a microphone that cannot be used; the typed path goes on
├── VoiceError          a voice or a loudspeaker cannot be used; what is said stays on the screen
├── SettingsError       a setting that cannot be used
├── UnknownName         a machine, code, designation or entry that does not exist
├── IsolationError      a fault model or a log of a session that cannot be reasoned with
├── RecordError         the job record cannot be opened, read or written
│   ├── RecordBroken    it is no job record of ours, or not what was written: every fault of it is listed
│   ├── EventRefused    an event that the job cannot take as it stands
│   └── JobInUse        another session works on the job
├── CalculationError    figures that cannot be calculated with: unit, dimension, range, a row the table lacks
└── BadQuestion         a question that cannot be read (empty, binary)
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass


class AssistantError(Exception):
    """What happened (`message`, with value and place) and what to do (`hint`)."""

    def __init__(self, message: str, hint: str = "") -> None:
        """Keep both parts; `str()` gives the message alone."""
        super().__init__(message)
        self.message = message
        self.hint = hint


@dataclass(frozen=True, slots=True, kw_only=True, order=True)
class Fault:
    """One fault of an authored file: where, what, and what would be right."""

    file: str
    line: int
    message: str
    hint: str = ""

    def __str__(self) -> str:
        """`file:line: message (hint)`."""
        tail = f" ({self.hint})" if self.hint else ""
        return f"{self.file}:{self.line}: {self.message}{tail}"


class KnowledgeError(AssistantError):
    """Authored files with faults; nothing of them was loaded."""

    def __init__(self, faults: Sequence[Fault]) -> None:
        """Keep all faults, sorted by place."""
        self.faults = tuple(sorted(faults))
        lines = "\n".join(f"  {fault}" for fault in self.faults)
        super().__init__(
            f"The knowledge has {len(self.faults)} fault(s); nothing was loaded:\n{lines}",
            "Correct the lines named, then run `handlamp check` again. `--last-good` answers from the last good index.",
        )


class IndexFailure(AssistantError):
    """The search index cannot be built, read or written."""


class ModelError(AssistantError):
    """A model file is corrupt or cannot be loaded."""


class ModelMissing(ModelError):
    """A model that is not installed here."""


class SoundError(AssistantError):
    """A sound file or a microphone that cannot be used."""


class VoiceError(AssistantError):
    """A voice or a loudspeaker that cannot be used."""


class SettingsError(AssistantError):
    """A setting that cannot be used."""


class UnknownName(AssistantError):
    """A machine, code, designation or entry that does not exist."""


class IsolationError(AssistantError):
    """A fault model or a log of a session that cannot be reasoned with."""


class RecordError(AssistantError):
    """The job record cannot be opened, read or written."""


class RecordBroken(RecordError):
    """A record that is not what was written; `faults` lists all that was found."""

    def __init__(self, message: str, hint: str = "", faults: Sequence[str] = ()) -> None:
        """Keep the faults and print them under the message."""
        self.faults = tuple(faults)
        super().__init__("\n".join([message, *(f"  {fault}" for fault in self.faults)]), hint)


class EventRefused(RecordError):
    """An event that the job cannot take as it stands."""


class JobInUse(RecordError):
    """Another session works on the job."""


class CalculationError(AssistantError):
    """Figures that cannot be calculated with: unit, dimension, range, a row that the table lacks."""


class BadQuestion(AssistantError):
    """A question that cannot be read."""
