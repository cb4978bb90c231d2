"""Sound files as the turns of one conversation: how long one is, how far it is, what is wrong with one that says nothing."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

from assistant.domain.sound import RATE_HZ, Samples
from assistant.recognition.level import Meter, faults_of
from assistant.recognition.sound_files import FileSource, long_note
from assistant.talk.conversation import Conversation

PROGRESS_MS = 10 * 60 * 1000
"""Of sound between two lines that say how far it is."""
FROM_START_TO_END = "it is heard from start to end, each utterance answered as it comes"


class Followed:
    """A file whose level is measured, and whose progress is told, while it is heard; nothing of it is kept."""

    def __init__(self, source: FileSource, say: Callable[[str], None]) -> None:
        """`say` takes a line for the user."""
        self._source, self._say = source, say
        self.meter = Meter()

    def blocks(self) -> Iterator[Samples]:
        """The blocks of the file."""
        taken, told_ms = 0, PROGRESS_MS
        for block in self._source.blocks():
            self.meter.add(block)
            taken += len(block)
            yield block
            if 1000 * taken >= told_ms * RATE_HZ and told_ms < self._source.length_ms:
                self._say(
                    f"{self._source.path.name}: {told_ms // 60_000} of {self._source.length_ms // 60_000} min heard."
                )
                told_ms += PROGRESS_MS


def hear_files(conversation: Conversation, sources: Sequence[FileSource], say: Callable[[str], None]) -> None:
    """Each file to its end, in order.

    Raises:
        SoundError: a file breaks off.

    """
    for source in sources:
        note = long_note(source, FROM_START_TO_END)
        if note:
            say(note)
        followed = Followed(source, say)
        if conversation.listen_to(followed) == 0:
            say(f"{source.path.name}: {faults_of(followed.meter.level(), speech=False)[0]}")
