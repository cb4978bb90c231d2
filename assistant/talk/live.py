"""The screen and the keys of a conversation by voice at a terminal: a few large rows, one key to talk, a line to type."""

from __future__ import annotations

import asyncio
import threading
import time
from collections.abc import Callable
from typing import Any

from prompt_toolkit.application import Application, get_app
from prompt_toolkit.buffer import Buffer
from prompt_toolkit.filters import Condition
from prompt_toolkit.formatted_text import StyleAndTextTuples
from prompt_toolkit.key_binding import KeyBindings, KeyPressEvent
from prompt_toolkit.layout import BufferControl, ConditionalContainer, FormattedTextControl, HSplit, Layout, Window
from prompt_toolkit.layout.processors import BeforeInput
from prompt_toolkit.styles import Style

from assistant.errors import SettingsError
from assistant.rendering.spoken import SpokenLine
from assistant.talk.conversation import Conversation, End, KeyDown, KeyUp
from assistant.talk.frame import MOST_ROWS, Row, frame_rows
from assistant.talk.hold_key import HoldKey, Turn
from assistant.talk.state import Talk, Understood

COMMAND_KEYS = {
    "n": "next", "b": "back", "r": "repeat", "w": "where was I", "s": "stop",
    "left": "slower", "right": "faster", "up": "louder", "down": "quieter",
}  # fmt: skip
"""The typed twins of the spoken commands."""
HELP = "n next  b back  r repeat  w where  s stop  ←→ pace  ↑↓ volume  t type  q quit"
STYLE = Style.from_dict({"strong": "bold", "signal": "bold fg:ansiblack bg:ansiyellow", "help": "fg:ansibrightblack"})
TICK_S = 0.1


class LiveScreen:
    """Keeps what is to be seen; `changed` is called whenever it is something else."""

    def __init__(self) -> None:
        """An empty screen."""
        self.changed: Callable[[], None] = lambda: None
        self._talk = Talk()
        self._heard = self._note = ""
        self._listening = False

    def heard(self, text: str, detail: str) -> None:
        """Stays until the next utterance."""
        self._heard, self._note = text, ""
        self.changed()

    def partial(self, text: str) -> None:
        """In the place of what was heard."""
        if text:
            self._heard = text
            self.changed()

    def line(self, line: SpokenLine) -> None:
        """Shown by the state."""
        self._note = ""

    def note(self, text: str) -> None:
        """One row."""
        self._note = text
        self.changed()

    def state(self, talk: Talk, *, listening: bool) -> None:
        """The rows follow from it."""
        if (talk, listening) != (self._talk, self._listening):
            self._talk, self._listening = talk, listening
            self.changed()

    def rows(self, width: int) -> tuple[Row, ...]:
        """What is to be seen now."""
        return frame_rows(self._talk, width, heard=self._heard, note=self._note, listening=self._listening)


def run_live(
    conversation: Conversation, screen: LiveScreen, key: str, *, terminal: dict[str, Any] | None = None
) -> None:
    """The conversation at this terminal until it is ended; `terminal` gives other input and output to prompt-toolkit.

    Raises:
        SettingsError: there is no such key.

    """
    hold = HoldKey()
    conversation.utterance_ended = hold.release
    typing = Buffer(multiline=False)
    bindings = _bindings(conversation, hold, typing, key)
    app: Application[None] = Application(
        layout=_layout(screen, typing, key), key_bindings=bindings, style=STYLE, full_screen=True, **(terminal or {})
    )
    screen.changed = app.invalidate
    worker = threading.Thread(target=conversation.run, name="conversation", daemon=True)
    worker.start()
    try:
        app.run(pre_run=lambda: _start_ticking(app, conversation, hold))
    finally:
        conversation.post(End())
        worker.join(timeout=5)


def _start_ticking(app: Application[None], conversation: Conversation, hold: HoldKey) -> None:
    async def ticking() -> None:
        while True:
            await asyncio.sleep(TICK_S)
            _turn(conversation, hold.tick(_now_ms()))

    app.create_background_task(ticking())


def _turn(conversation: Conversation, turn: Turn | None) -> None:
    if turn is not None:
        conversation.post(KeyDown() if turn is Turn.DOWN else KeyUp())


def _now_ms() -> int:
    return round(1000 * time.monotonic())


def _layout(screen: LiveScreen, typing: Buffer, key: str) -> Layout:
    def shown() -> StyleAndTextTuples:
        rows = screen.rows(get_app().output.get_size().columns)
        return [
            (f"class:{'signal' if row.signal else 'strong' if row.strong else ''}", f"{row.text}\n") for row in rows
        ]

    talk = "SPACE" if key == "space" else key.upper()
    rows = Window(FormattedTextControl(shown), height=MOST_ROWS, always_hide_cursor=True)
    line = Window(BufferControl(typing, input_processors=[BeforeInput("type> ")], focusable=True), height=1)
    entry = ConditionalContainer(line, Condition(lambda: get_app().layout.has_focus(typing)))
    foot = Window(FormattedTextControl([("class:help", f"{talk} talk  {HELP}")], focusable=True), wrap_lines=True)
    return Layout(HSplit([rows, entry, foot]), focused_element=foot)


def _bindings(conversation: Conversation, hold: HoldKey, typing: Buffer, key: str) -> KeyBindings:
    bindings = KeyBindings()
    idle = Condition(lambda: not get_app().layout.has_focus(typing))

    def say(text: str) -> None:
        conversation.post(Understood(text=text))

    try:
        bindings.add(key, filter=idle)(lambda event: _turn(conversation, hold.press(_now_ms())))
    except ValueError as error:
        raise SettingsError(f"There is no key `{key}`.", "For example: space, f8, c-space, or one letter.") from error
    for name, command in COMMAND_KEYS.items():
        if name != key:
            bindings.add(name, filter=idle)(lambda event, command=command: say(command))
    for name in ("t", "enter"):
        bindings.add(name, filter=idle)(lambda event: event.app.layout.focus(typing))

    def leave_typing(event: KeyPressEvent) -> None:
        typing.reset()
        event.app.layout.focus_last()

    @bindings.add("enter", filter=~idle)
    def _send(event: KeyPressEvent) -> None:
        if typing.text.strip():
            say(typing.text)
        leave_typing(event)

    bindings.add("escape", filter=~idle)(leave_typing)
    for name in ("c-c", "c-d"):
        bindings.add(name)(lambda event: event.app.exit())
    bindings.add("q", filter=idle)(lambda event: event.app.exit())
    return bindings
