"""People who read aloud, as packages carry them, and the texts that they read (all long in the public domain)."""

from dataclasses import dataclass
from importlib.util import find_spec
from pathlib import Path

import numpy as np
import pytest

from assistant.domain.sound import RATE_HZ
from assistant.recognition.sound_files import FileSource

TESTDATA = Path("/usr/share/pocketsphinx/test/data")


@dataclass(frozen=True)
class Clause:
    """Words and where they lie in the recording, in seconds, each between two pauses."""

    start_s: float
    end_s: float
    text: str


# Charles Dickens, A Tale of Two Cities (1859), book 1, chapter 1, its first sentence
TWO_CITIES = (
    Clause(0.90, 2.89, "It was the best of times"),
    Clause(2.89, 4.36, "it was the worst of times"),
    Clause(4.79, 6.42, "it was the age of wisdom"),
    Clause(6.42, 8.49, "it was the age of foolishness"),
    Clause(8.49, 10.52, "it was the epoch of belief"),
    Clause(10.52, 13.10, "it was the epoch of incredulity"),
    Clause(13.10, 14.94, "it was the season of Light"),
    Clause(14.94, 17.11, "it was the season of Darkness"),
    Clause(17.11, 18.85, "it was the spring of hope"),
    Clause(18.85, 20.85, "it was the winter of despair"),
    Clause(20.85, 24.32, "we had everything before us, we had nothing before us"),
)
AFTER_30_S = "in the superlative degree of comparison only"
# Jane Austen, Sense and Sensibility (1811), chapter 1, read by a volunteer of LibriVox
SENSE_AND_SENSIBILITY = {
    "0870": "and Mr. John Dashwood had then leisure to consider how much there might be prudently in his power to do for them.",
    "0880": "He was not an ill-disposed young man,",
    "0890": "unless to be rather cold hearted and rather selfish is to be ill-disposed:",
    "0920": "Had he married a more amiable woman, he might have been made still more respectable than he was:",
    "0930": "he might even have been made amiable himself",
}


def part(sound, clause):
    return sound[round(clause.start_s * RATE_HZ) : round(clause.end_s * RATE_HZ)]


def read_file(path):
    return np.concatenate(list(FileSource(path).blocks()))


def two_cities():
    """The reading of Dickens, int16 at RATE_HZ; the package is looked for and never imported."""
    found = find_spec("moonshine_voice")
    if found is None or not found.submodule_search_locations:
        pytest.skip("moonshine-voice, which carries a recording, is not installed (the `test` extra; Linux on x86-64)")
    path = Path(found.submodule_search_locations[0]) / "assets" / "two_cities.wav"
    if not path.is_file():
        pytest.skip(f"this version of moonshine-voice carries no {path.name}; 0.1.5 does")
    return read_file(path)


def debian_testdata(name):
    """A file of Debian's pocketsphinx-testdata."""
    if not TESTDATA.is_dir():
        pytest.skip("recordings of people are not installed: apt-get install pocketsphinx-testdata")
    return TESTDATA / name
