"""Rules that a reader of the code can lean on, apart from the layers.

Each rule is a function from sources to a list of faults; the tests below show
every one of them failing on a broken input.
"""

import ast
import re
from collections.abc import Mapping
from pathlib import Path
from typing import Final

import pytest

ROOT: Final = Path(__file__).resolve().parents[1]
Sources = Mapping[str, str]  # path from the root, with slashes -> text

MAX_LINES: Final = 400
DRAWERS: Final = {"utils", "util", "helpers", "helper", "common", "misc", "tools"}
SHADOWS: Final = {  # file name -> where it may not stand, as it would hide a package there
    "model.py": ("app", "tests", "notebooks"),
    "app.py": ("tests", "notebooks"),
    "streamlit.py": ("app",),
    "tests.py": ("app",),
}
# People use Windows: none of these exist there, but for os.kill, which there ends the process
# whatever the signal, also where it was only meant to ask whether it lives.
POSIX_MODULES: Final = {"fcntl", "termios", "pwd", "grp", "resource", "pty", "tty", "syslog"}
POSIX_NAMES: Final = r"os\.(fork\w*|kill\w*|getuid|geteuid|setsid|mkfifo|nice)"
POSIX_SIGNALS: Final = r"signal\.SIG(?!INT\b|TERM\b|BREAK\b|_)\w+"


def code_only_in_init(sources: Sources) -> list[str]:
    faults = []
    for path, text in sources.items():
        if not path.endswith("__init__.py"):
            continue
        body = ast.parse(text).body
        if len(body) != 1 or ast.get_docstring(ast.parse(text)) is None:
            faults.append(f"{path}: a docstring and nothing else")
    return faults


def packages_without_init(sources: Sources) -> list[str]:
    folders = {path.rpartition("/")[0] for path in sources}
    return [folder for folder in sorted(folders) if f"{folder}/__init__.py" not in sources]


def drawers(sources: Sources) -> list[str]:
    return [path for path in sources if DRAWERS & set(re.split(r"[/.]", path))]


def long_files(sources: Sources) -> list[str]:
    lengths = {path: len(text.splitlines()) for path, text in sources.items()}
    return [f"{path}: {length} lines" for path, length in lengths.items() if length >= MAX_LINES]


def prints(sources: Sources) -> list[str]:
    return [
        f"{path}:{node.lineno}"
        for path, text in sources.items()
        if path != "app/cli.py"
        for node in ast.walk(ast.parse(text))
        if isinstance(node, ast.Call) and ast.unparse(node.func) in {"print", "builtins.print"}
    ]


def undocumented_modules(sources: Sources) -> list[str]:
    return [path for path, text in sources.items() if not ast.get_docstring(ast.parse(text))]


def _is_posix_only(node: ast.AST) -> bool:
    if isinstance(node, ast.Import):
        return any(alias.name in POSIX_MODULES for alias in node.names)
    if isinstance(node, ast.ImportFrom):
        names = [f"{node.module}.{alias.name}" for alias in node.names]
        return node.module in POSIX_MODULES or any(_is_posix_name(name) for name in names)
    return isinstance(node, ast.Attribute) and _is_posix_name(ast.unparse(node))


def _is_posix_name(name: str) -> bool:
    return re.fullmatch(f"{POSIX_NAMES}|{POSIX_SIGNALS}", name) is not None


def posix_only(sources: Sources) -> list[str]:
    return [
        f"{path}:{getattr(node, 'lineno', 0)}"
        for path, text in sources.items()
        for node in ast.walk(ast.parse(text))
        if _is_posix_only(node)
    ]


def shadowing_files(paths: Mapping[str, str]) -> list[str]:
    return [
        path for path in paths if path.partition("/")[0] in SHADOWS.get(path.rpartition("/")[2], ())
    ]


CODE_RULES: Final = (
    code_only_in_init,
    packages_without_init,
    drawers,
    long_files,
    prints,
    undocumented_modules,
    posix_only,
)


def _read(*folders: str) -> Sources:
    paths = [path for folder in folders for path in sorted((ROOT / folder).rglob("*.py"))]
    return {path.relative_to(ROOT).as_posix(): path.read_text("utf-8") for path in paths}


@pytest.mark.parametrize("rule", CODE_RULES, ids=lambda rule: rule.__name__)
def test_code_keeps_the_rule(rule) -> None:
    sources = _read("model", "app")
    assert len(sources) > 10
    assert rule(sources) == []


def test_nothing_hides_a_package() -> None:
    assert shadowing_files(_read("model", "app", "tests", "notebooks")) == []


def test_tests_are_no_package() -> None:
    # A tests/model or tests/app package would stand in for ours under some import modes.
    assert [path for path in _read("tests") if path.endswith("__init__.py")] == []


BROKEN: Final = {
    "code in an __init__": (
        code_only_in_init,
        {"model/store/__init__.py": '"""The store."""\nfrom model.store.facts import read\n'},
    ),
    "an empty __init__": (code_only_in_init, {"model/store/__init__.py": ""}),
    "a folder without __init__": (packages_without_init, {"app/views/ask.py": ""}),
    "a drawer": (drawers, {"model/store/utils.py": ""}),
    "a drawer with a lid": (drawers, {"model/store/utils/text.py": ""}),
    "a long file": (long_files, {"app/views/ask.py": "x = 1\n" * MAX_LINES}),
    "a print": (prints, {"model/store/facts.py": "def f():\n    print('here')\n"}),
    "a module that says nothing": (undocumented_modules, {"model/store/facts.py": "x = 1\n"}),
    "a POSIX-only module": (posix_only, {"model/store/lock.py": "def f():\n    import fcntl\n"}),
    "a fork": (posix_only, {"app/worker.py": "import os\npid = os.fork()\n"}),
    "a fork by its bare name": (posix_only, {"app/worker.py": "from os import fork\n"}),
    "a POSIX-only signal": (posix_only, {"app/worker.py": "import signal\nx = signal.SIGKILL\n"}),
    "a file that hides a package": (shadowing_files, {"tests/questions/model.py": ""}),
    "a view that hides a library": (shadowing_files, {"app/views/streamlit.py": ""}),
}


@pytest.mark.parametrize("name", BROKEN)
def test_broken_rule_is_found(name: str) -> None:
    rule, broken = BROKEN[name]
    assert len(rule(broken)) == 1


def test_tidy_code_passes() -> None:
    tidy = {
        "app/__init__.py": '"""The faces."""\n',
        "app/cli.py": '"""The command line."""\nimport signal\nprint(signal.SIGTERM)\n',
    }
    assert [fault for rule in (*CODE_RULES, shadowing_files) for fault in rule(tidy)] == []
