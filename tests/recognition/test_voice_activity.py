import subprocess
import sys

import numpy as np
import pytest

from assistant.recognition.voice_activity import SileroDetector
from tests.conftest import ROOT

pytestmark = pytest.mark.engine

LOADING = {
    "voice activity": "from assistant.recognition.voice_activity import SileroDetector; SileroDetector().chance(np.zeros(512, dtype=np.int16))",
    "language model": "model = LazyModel(shelf_of(load_settings({}))); model.likelihoods(['a'], 'b')",
}


@pytest.mark.parametrize("order", [("voice activity", "language model"), ("language model", "voice activity")])
def test_voice_activity_and_language_model_live_in_one_process(order):
    # both once brought a libggml of their own, and whichever came second could not be loaded
    pytest.importorskip("llama_cpp")
    first = "import numpy as np\nfrom assistant.assembly import LazyModel, shelf_of\nfrom assistant.settings import load_settings\n"
    done = subprocess.run(
        [sys.executable, "-c", first + "\n".join(LOADING[name] for name in order)],
        cwd=ROOT,
        capture_output=True,
        text=True,
        timeout=120,
    )
    assert done.returncode == 0, done.stderr[-2000:]


def test_a_detector_that_was_reset_has_forgotten():
    chance = np.random.default_rng(7)
    loud = [(8000 * chance.standard_normal(512)).astype(np.int16) for _ in range(4)]
    fresh, used = SileroDetector(), SileroDetector()
    for chunk in loud:
        used.chance(chunk)
    used.reset()
    assert [used.chance(c) for c in loud] == [fresh.chance(c) for c in loud]
