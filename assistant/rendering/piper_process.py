"""Run as a process of its own: sentences in on standard input, sound out on standard output.

It alone loads piper-tts, which is under the GPL-3; the rest of the project meets it only as bytes on a pipe. It imports
nothing of the project. A request is one JSON line {"text", "length_scale"}; the reply is any number of JSON lines
{"rate_hz", "bytes"}, each followed by that many bytes of int16 little-endian mono samples, then {"end": true}.
"""

from __future__ import annotations

import json
import sys
from typing import Any, BinaryIO


def serve(voice: Any, requests: BinaryIO, replies: BinaryIO) -> None:
    """Speak until the requests end."""
    from piper import SynthesisConfig

    for line in requests:
        asked = json.loads(line)
        config = SynthesisConfig(length_scale=float(asked["length_scale"]))
        for chunk in voice.synthesize(asked["text"], config):
            data = chunk.audio_int16_bytes
            _reply(replies, {"rate_hz": chunk.sample_rate, "bytes": len(data)}, data)
        _reply(replies, {"end": True})


def _reply(replies: BinaryIO, header: dict[str, Any], data: bytes = b"") -> None:
    replies.write(json.dumps(header).encode() + b"\n" + data)
    replies.flush()


def main(model: str) -> None:
    """Load the voice, say that it is ready, and serve; the first run of a voice is slow, so one word is spoken unheard."""
    from piper import PiperVoice

    voice = PiperVoice.load(model)
    for _ in voice.synthesize("Ready."):
        pass
    _reply(sys.stdout.buffer, {"ready": True})
    serve(voice, sys.stdin.buffer, sys.stdout.buffer)


if __name__ == "__main__":
    main(sys.argv[1])
