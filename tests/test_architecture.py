import ast
import subprocess
import sys

import pytest

from tests.conftest import ROOT

SOURCES = sorted((ROOT / "assistant").rglob("*.py")) + sorted((ROOT / "eval").rglob("*.py"))
REFUSED_NAMES = {"utils", "helpers", "common", "manager", "misc", "core", "base"}


def answers_made_in(source: str) -> list[int]:
    """Lines on which an Answer is constructed or copied."""
    made = []
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Call):
            name = node.func.id if isinstance(node.func, ast.Name) else getattr(node.func, "attr", "")
            if name == "Answer":
                made.append(node.lineno)
    return made


@pytest.mark.parametrize("path", [p for p in SOURCES if "rules" not in p.parts], ids=lambda p: p.stem)
def test_only_rules_make_an_answer(path):
    assert answers_made_in(path.read_text()) == []


def test_the_search_for_makers_of_answers_finds_one():
    assert answers_made_in("from x import Answer\na = Answer(question='')\nb = y.Answer(q=1)") == [2, 3]
    assert answers_made_in((ROOT / "assistant/rules/verdict.py").read_text())


@pytest.mark.parametrize("path", SOURCES, ids=lambda p: f"{p.parent.name}-{p.stem}")
def test_modules_and_functions_stay_small_and_well_named(path):
    text = path.read_text()
    assert path.stem not in REFUSED_NAMES
    assert len(text.splitlines()) < 400
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, ast.FunctionDef):
            body = node.end_lineno - node.body[0].lineno + 1
            assert body < 50, f"{path.name}:{node.lineno} {node.name} has {body} lines"


def test_importing_the_package_loads_no_heavy_library():
    heavy = "faiss onnxruntime llama_cpp bm25s tokenizers pydantic torch numpy prompt_toolkit".split()
    code = f"import sys, assistant; print([m for m in {heavy} if m in sys.modules])"
    assert (
        subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout.strip() == "[]"
    )


def test_the_runtime_never_needs_torch_or_the_schema_check(settings, assistant):
    code = (
        "import sys\nfrom assistant.assembly import *\nfrom assistant.settings import load_settings\n"
        "a = make_assistant(load_settings({}), Options(model=False), lambda t: None)\n"
        "print([m for m in ('torch', 'pydantic', 'llama_cpp', 'sklearn') if m in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=ROOT)
    assert done.stdout.strip() == "[]"


def test_no_network_client_is_imported_but_by_the_fetching_module():
    for path in SOURCES:
        if path.name == "fetch.py":
            continue
        for node in ast.walk(ast.parse(path.read_text())):
            names = [a.name for a in node.names] if isinstance(node, ast.Import) else []
            names += [node.module or ""] if isinstance(node, ast.ImportFrom) else []
            assert not any(n.split(".")[0] in {"urllib", "http", "socket", "requests", "httpx"} for n in names), path
