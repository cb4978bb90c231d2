"""The conversation at a terminal: history, completion, commands; plain lines when there is no terminal."""

from __future__ import annotations

import json
import os
import sys
import textwrap
import time
import uuid
from collections.abc import Callable, Iterable, Sequence
from contextlib import ExitStack
from datetime import date, datetime
from pathlib import Path

from assistant.dialogue.session import Session
from assistant.domain.answer import Answer
from assistant.domain.knowledge import KnowledgeBase
from assistant.domain.turn import Conversation
from assistant.errors import AssistantError
from assistant.inbox import INBOX, MARKED_WRONG, Inbox, letter_of
from assistant.pipeline import Assistant
from assistant.records.lease import own_mark
from assistant.records.ledger import FILE, Ledger, open_ledger
from assistant.records.recorder import Recorder
from assistant.rendering.contract import as_object
from assistant.rendering.screen import screen_style
from assistant.rendering.terminal import render
from assistant.settings import Settings

COMMANDS = {
    "?": "this page",
    "machine NAME": "put a machine in scope",
    "show NAME": "a component (FC3), or an entry by its id",
    "more": "the last entry in full",
    "state": "what has been declared of the machine",
    "wrong WHY": "the last answer was wrong: kept for the author, on this machine only",
    "quit": "end",
}
HELP = """Type what you see, hear or want to know: a complaint, a code, a place,
a figure, a how-to.
  204                     a code, in any form: 2-0-4, two oh four
  where is fuse three     a component, by designation or by what people call it
  where does wire 41 go   a wire, a terminal, an input, an output, a setting
  how tight should it be  a follow-up on what was last spoken of
  isolated                declare it; each item is then asked and confirmed
  power is back on        takes the isolation back
Commands:
"""
Write = Callable[[str], None]


def help_text() -> str:
    """What can be typed."""
    return HELP + "\n".join(f"  {name:<23} {what}" for name, what in COMMANDS.items())


def words_to_complete(knowledge: KnowledgeBase) -> tuple[str, ...]:
    """Codes, designations, commands and machines, sorted."""
    names = [item.id for item in (*knowledge.components, *knowledge.codes, *knowledge.signals)]
    names += [machine.pack for machine in knowledge.machines]
    names += [name.split()[0] for name in COMMANDS]
    return tuple(sorted(set(names)))


class Chat:
    """Takes lines and writes answers; what reads the lines is somebody else's."""

    def __init__(
        self,
        assistant: Assistant,
        settings: Settings,
        write: Write,
        *,
        json_lines: bool,
        inbox: Inbox | None = None,
        day: Callable[[], str] = lambda: "",
        recorder: Recorder | None = None,
        clock_s: Callable[[], float] | None = None,
    ) -> None:
        """Start a session; `clock_s` where somebody types in real time, so that a wait can be counted down.

        What was not covered or is marked wrong goes to the inbox, with the day that `day` tells; guided work goes to the
        recorder's job.
        """
        self._recorder = recorder
        self._assistant = assistant
        self._write = write
        self._json = json_lines
        self._inbox, self._day = inbox, day
        self._last: Answer | None = None
        self.session = Session(assistant, settings.machine, clock_s)

    def take(self, line: str) -> bool:
        """One line; False when the conversation ends."""
        plain = line.strip()
        if self._json:
            self._answer(lambda: self.session.say(plain))
            return True
        first, _, rest = plain.partition(" ")
        match first.lower().removeprefix("/"):
            case "quit" | "exit" | "bye" if not rest:
                return False
            case "?" | "help" if not rest:
                self._write(help_text())
            case "more" if not rest:
                self._more()
            case "state" if not rest:
                self._write(self._state())
            case "wrong" if not rest or plain.startswith("/"):
                self._wrong(rest.strip())
            case "machine" if rest and len(rest.split()) == 1:
                self._machine(rest.strip())
            case "show" if rest and len(rest.split()) <= 2:
                self._answer(lambda: self.session.show(rest.strip()))
            case "":
                return True
            case _:
                self._answer(lambda: self.session.say(plain))
        return True

    def _answer(self, take: Callable[[], Answer]) -> None:
        before = self.session.conversation
        try:
            answer = take()
        except AssistantError as error:
            self._write(f"{error.message} {error.hint}".strip())
            return
        self._record(answer, before)
        self._show(answer)

    def take_up(self) -> None:
        """Go on with the job that waits for this session."""
        if self._recorder is None:
            return
        try:
            found = self._recorder.take_up()
        except AssistantError as error:
            self._say(f"{error.message} {error.hint}")
            return
        if found is not None:
            conversation, notice = found
            self._say(notice)
            answer = self.session.take_up(conversation)
            if answer is not None:
                self._show(answer)

    def end(self) -> None:
        """The conversation is over: what is not finished is left open in the record."""
        if self._recorder is None:
            return
        try:
            self._recorder.leave(self.session.conversation)
        except AssistantError as error:
            self._say(f"{error.message} {error.hint}")

    def _record(self, answer: Answer, before: Conversation) -> None:
        """Write the turn down before it is shown; a record that cannot be written is said once, and the work goes on."""
        if self._recorder is None:
            return
        try:
            after = self._recorder.note(answer.question, before, self.session.conversation, answer)
        except AssistantError as error:
            self._recorder = None
            self._say(f"{error.message} {error.hint} What follows is not recorded.")
            return
        self.session.conversation = after

    def _say(self, text: str) -> None:
        """A note beside the answers; a conversation in JSON keeps its lines for objects."""
        if self._json:
            sys.stderr.write(f"note: {text}\n")
        else:
            self._write(textwrap.fill(f"note: {text}", screen_style().columns, subsequent_indent="      "))

    def _show(self, answer: Answer) -> None:
        if self._json:
            self._write(json.dumps(as_object(answer), ensure_ascii=False))
            return
        self._write(render(answer, screen_style()) + "\n")
        self._last = answer
        if self._inbox is not None:
            self._kept(lambda inbox: inbox.keep_if_lost(answer, self._day()))

    def _wrong(self, remark: str) -> None:
        answer = self._last
        if answer is None or self._inbox is None:
            self._write("Nothing was answered yet.")
            return
        if self._kept(lambda inbox: inbox.keep(letter_of(answer, MARKED_WRONG, remark, self._day()))):
            self._write("Kept for the author, on this machine only.")

    def _kept(self, keep: Callable[[Inbox], object]) -> bool:
        assert self._inbox is not None
        try:
            keep(self._inbox)
        except AssistantError as error:
            self._write(f"note: {error.message} {error.hint}")
            return False
        return True

    def _more(self) -> None:
        focus = self.session.conversation.focus
        if focus is None:
            self._write("Nothing was spoken of yet.")
            return
        self._answer(lambda: self.session.show(focus))

    def _machine(self, name: str) -> None:
        packs = {m.pack: m.name for m in self._assistant.knowledge.machines}
        if name.lower() not in packs:
            self._write(f"There is no machine `{name}`. Machines: {', '.join(packs)}.")
            return
        self.session.use_machine(name.lower())
        self._write(f"In scope: {packs[name.lower()]}.")

    def _state(self) -> str:
        conversation = self.session.conversation
        scope = conversation.scope or "none chosen"
        return f"Machine in scope: {scope}. Declared state: {conversation.state.energy}."


def run_chat(assistant: Assistant, settings: Settings, *, json_lines: bool) -> None:
    """Read turns until the end, from a terminal or from a pipe; guided work is kept in the job record."""
    with ExitStack() as stack:
        recorder = None
        try:
            ledger = stack.enter_context(open_ledger(settings.data_dir / FILE))
            recorder = make_recorder(assistant, ledger)
        except AssistantError as error:
            sys.stderr.write(f"note: {error.message} {error.hint} Nothing is recorded.\n")
        inbox = Inbox(settings.data_dir / INBOX)
        piped = json_lines or not sys.stdin.isatty()
        chat = Chat(
            assistant,
            settings,
            _write,
            json_lines=json_lines,
            inbox=inbox,
            day=lambda: date.today().isoformat(),
            recorder=recorder,
            clock_s=None if piped else time.monotonic,
        )
        chat.take_up()
        if piped:
            run_plain(chat, (raw.decode("utf-8", errors="replace") for raw in sys.stdin.buffer))
        else:
            _write("handlamp. `?` for help, `quit` or Ctrl-D to end.")
            run_terminal(chat, words_to_complete(assistant.knowledge), settings.data_dir / "history")
        chat.end()


def make_recorder(assistant: Assistant, ledger: Ledger) -> Recorder:
    """A recorder for a session that begins now, in the name of this computer's user."""
    return Recorder(
        ledger,
        assistant.knowledge,
        assistant.guide.isolator_of,
        mark=own_mark(uuid.uuid4().hex),
        who=os.environ.get("USER") or os.environ.get("USERNAME") or "unknown",
        now=lambda: datetime.now().astimezone().isoformat(timespec="seconds"),
    )


def run_plain(chat: Chat, lines: Iterable[str]) -> None:
    """Each line a turn."""
    for line in lines:
        if line.strip() and not chat.take(line):
            return


def run_terminal(chat: Chat, words: Sequence[str], history: Path) -> None:
    """prompt-toolkit's line editor; Ctrl-C clears the line, Ctrl-D ends."""
    from prompt_toolkit import PromptSession
    from prompt_toolkit.completion import WordCompleter
    from prompt_toolkit.history import FileHistory, History, InMemoryHistory

    kept: History = InMemoryHistory()
    try:
        history.parent.mkdir(parents=True, exist_ok=True)
        history.touch()
        kept = FileHistory(str(history))
    except OSError:
        _write(f"note: the history cannot be kept in {history.parent}.")
    completer = WordCompleter(list(words), ignore_case=True)
    prompt: PromptSession[str] = PromptSession(history=kept, completer=completer, complete_while_typing=False)
    while True:
        try:
            line = prompt.prompt("> ")
        except KeyboardInterrupt:
            continue
        except EOFError:
            return
        try:
            if not chat.take(line):
                return
        except KeyboardInterrupt:
            _write("Stopped. What was declared and confirmed so far stays.")


def _write(text: str) -> None:
    sys.stdout.write(text + "\n")
    sys.stdout.flush()
