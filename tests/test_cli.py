import json
import os
import subprocess
import sys

import pytest

from tests.conftest import ROOT, make_pack

pytestmark = pytest.mark.engine


def run(*arguments, given=b"", **environment):
    return subprocess.run(
        [sys.executable, "-m", "assistant.cli", *arguments],
        input=given,
        capture_output=True,
        cwd=ROOT,
        env={**os.environ, **environment},
        timeout=120,
    )


def test_ask_prints_one_json_object():
    done = run("ask", "--json", "--no-model", "what", "does", "204", "mean")
    assert done.returncode == 0
    assert json.loads(done.stdout)["codes"] == ["204"]


def test_lines_are_independent_questions_an_object_each():
    done = run("ask", "--json", "--lines", "--no-model", given="204\n\nwhere is BG9\n\x00\x01\xff\n".encode("latin-1"))
    rows = [json.loads(line) for line in done.stdout.splitlines()]
    assert [row["outcome"] for row in rows] == ["answered", "answered", "ask_again"]


def test_chat_reads_one_conversation():
    done = run("chat", "--json", "--no-model", "-m", "drumlin", given=b"isolated\nyes\nno\n")
    rows = [json.loads(line) for line in done.stdout.splitlines()]
    assert [row["outcome"] for row in rows] == ["done", "done", "done"]
    assert rows[0]["pending"]["kind"] == "confirm" and rows[2]["pending"] is None


def test_chat_in_a_pipe_is_plain():
    done = run("chat", "--no-model", given=b"?\n204\nstate\nquit\n")
    assert done.returncode == 0 and b"\x1b" not in done.stdout and b"Turntable overload" in done.stdout


def test_show_tells_a_component_and_what_mentions_it():
    done = run("show", "fc3", "-m", "drumlin")
    assert b"Controller fuse FC3" in done.stdout and b"Mentioned in:" in done.stdout


def test_show_draws_where_a_component_sits(tmp_path):
    assert b">FC3<" in run("show", "fc3", "-m", "drumlin", "--plan").stdout
    picture = tmp_path / "fc3.svg"
    done = run("show", "fc3", "-m", "drumlin", "--picture", "--out", str(picture))
    assert done.stdout.decode().strip() == str(picture) and "FC3" in picture.read_text()
    told = json.loads(run("show", "fc3", "-m", "drumlin", "--plan", "--json").stdout)
    assert told["machine"] == "drumlin" and any(">FC3<" in line for line in told["plan"])
    refused = run("show", "fc3", "-m", "drumlin", "--picture", "--out", str(tmp_path / "fc3.png"))
    assert refused.returncode == 1 and b"no SVG file" in refused.stderr and not (tmp_path / "fc3.png").exists()
    nowhere = run("show", "fc3", "-m", "drumlin", "--out", str(tmp_path / "no" / "fc3.svg"))
    assert nowhere.returncode == 1 and b"cannot be written" in nowhere.stderr and b"--out" in nowhere.stderr


@pytest.mark.parametrize(
    ("arguments", "expected"),
    [(("show", "FC99"), b"There is no entry or component"), (("ask", "-m", "nope", "204"), b"There is no machine"),
     (("models", "verify", "nothing"), b"There is no model role"), (("check", "/nonexistent"), b"no such folder")],
)  # fmt: skip
def test_errors_say_what_happened_and_what_to_do_and_exit_1(arguments, expected):
    done = run(*arguments)
    assert done.returncode == 1 and expected in done.stderr and b"Traceback" not in done.stderr


def test_wrong_usage_exits_2():
    assert run("ask", "--nonsense").returncode == 2


@pytest.mark.parametrize(
    "command",
    [
        (),
        ("ask",),
        ("code",),
        ("show",),
        ("machines",),
        ("models",),
        ("models", "list"),
        ("check",),
        ("index",),
        ("chat",),
        ("calc",),
    ],
)
def test_every_command_has_help(command):
    done = run(*command, "--help")
    assert done.returncode == 0 and b"Usage" in done.stdout


def test_check_lists_every_fault_as_text_and_as_json(tmp_path):
    root = make_pack(tmp_path / "k")
    (root / "machines/tiny/facts.yaml").write_text("- id: gap\n  titel: x\n")
    text, data = run("check", str(root)), run("check", "--json", str(root))
    assert text.returncode == data.returncode == 1
    assert b"machines/tiny/facts.yaml:2" in text.stderr
    assert {fault["line"] for fault in json.loads(data.stdout)["faults"]} >= {1, 2}


def test_models_list_names_licence_digest_and_routes():
    rows = json.loads(run("models", "list", "--json").stdout)
    assert {row["role"] for row in rows} >= {"encoder", "tokenizer", "language-model"}
    unpublished = {"recogniser-vosk"}  # its maker publishes none; what comes first is pinned
    assert all(len(row["sha256"]) == 64 or row["role"] in unpublished for row in rows)
    assert all(row["licence"] and row["routes"] for row in rows)


def test_a_corrupt_needed_model_is_one_clear_error(tmp_path):
    bad = tmp_path / "models" / "minilm-int8.onnx"
    bad.parent.mkdir()
    bad.write_bytes(b"junk")
    done = run("ask", "204", HANDLAMP_DATA_DIR=str(tmp_path))
    assert done.returncode == 1 and b"corrupt" in done.stderr and b"Traceback" not in done.stderr


def test_a_missing_language_model_is_one_line_and_the_rest_works(tmp_path):
    settings = tmp_path / "s.toml"
    settings.write_text('[models]\nlanguage-model = "/nonexistent.gguf"\n')
    done = run(
        "ask", "how far does an inductive sensor see", HANDLAMP_SETTINGS=str(settings), HANDLAMP_COMPOSER="blend"
    )
    assert done.returncode == 0 and b"language model is not installed" in done.stderr
    assert b"Source: trade/fact/inductive-gap" in done.stdout


def test_an_unknown_setting_is_an_error_with_the_nearest(tmp_path):
    settings = tmp_path / "s.toml"
    settings.write_text("machin = 'drumlin'\n")
    done = run("ask", "204", HANDLAMP_SETTINGS=str(settings))
    assert done.returncode == 1 and b"Did you mean `machine`" in done.stderr


def test_a_machine_said_before_the_command_counts_as_if_said_after_it():
    question = ("how long do i wait before i open it",)
    after = json.loads(run("ask", "--json", "--no-model", "-m", "skerry", *question).stdout)
    before = json.loads(run("-m", "skerry", "--json", "ask", "--no-model", *question).stdout)
    assert before["machine"] == "skerry" and before["sources"] == after["sources"]
    chat = run("--machine", "skerry", "chat", "--json", "--no-model", given=b"state\n")
    assert json.loads(chat.stdout)["machine"] == "skerry"


def test_what_is_said_before_the_command_reaches_every_command_that_takes_it():
    import typer.main
    from typer.core import TyperGroup

    from assistant.cli import app, handed_down

    group = typer.main.get_command(app)
    assert isinstance(group, TyperGroup)
    down = handed_down(group, {"--machine": "skerry", "--json": None})
    assert {name for name, given in down.items() if given == {"machine": "skerry"}} >= {
        "ask",
        "chat",
        "code",
        "show",
        "calc",
        "prepare",
        "talk",
    }
