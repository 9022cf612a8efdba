"""What the documents say is what the tree and the command line are.

``uv run python tests/test_documents.py`` writes the tables of DEVELOPERS.md anew
from the first line of each module's docstring.
"""

import ast
import re
import subprocess
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import pytest

ROOT: Final = Path(__file__).resolve().parents[1]
Sources = Mapping[str, str]  # path from the root, with slashes -> text

TOP_LEVEL: Final = {
    "README.md",
    "DEVELOPERS.md",
    "LICENSE",
    "pyproject.toml",
    "uv.lock",
    "model",
    "app",
    "tests",
    "data",
    "notebooks",
}
README_COMMANDS: Final = (
    "pip install uv && uv run kedgewise demo",
    "pip install uv && uv run pytest",
)


# --- the tables of DEVELOPERS.md ---------------------------------------------------------


def first_line(text: str) -> str:
    """First paragraph of a module's docstring, on one line, fit for a table's cell."""
    docstring = ast.get_docstring(ast.parse(text)) or ""
    return " ".join(docstring.split("\n\n")[0].split()).replace("|", "\\|")


def room_rows(sources: Sources) -> list[str]:
    rooms = {path.removesuffix("/__init__.py"): text for path, text in sources.items()}
    return [
        f"| `{room}` | {first_line(text)} |"
        for room, text in sorted(rooms.items())
        if not room.endswith(".py") and room != "model"
    ]


def module_rows(sources: Sources) -> list[str]:
    return [
        f"| `{path}` | {first_line(text)} |"
        for path, text in sorted(sources.items())
        if not path.endswith("__init__.py")
    ]


TABLES: Final = {"rooms": room_rows, "modules": module_rows}


def _table(page: str, name: str) -> re.Match[str]:
    found = re.search(rf"(<!-- {name} -->\n)(.*?)(<!-- end of {name} -->)", page, re.DOTALL)
    assert found is not None, f"DEVELOPERS.md has no table between the marks {name!r}"
    return found


def table_faults(page: str, sources: Sources) -> list[str]:
    faults = []
    for name, rows_of in TABLES.items():
        written = [line for line in _table(page, name)[2].splitlines() if line.startswith("| `")]
        wanted = rows_of(sources)
        faults += [f"{name}: missing {row}" for row in wanted if row not in written]
        faults += [f"{name}: extra {row}" for row in written if row not in wanted]
        if not faults and written != wanted:
            faults.append(f"{name}: not in order, or a row twice")
    return faults


def with_tables(page: str, sources: Sources) -> str:
    for name, rows_of in TABLES.items():
        head = [f"| {name.removesuffix('s')} | what it holds |", "| --- | --- |"]
        rows = "\n".join([*head, *rows_of(sources)])
        found = _table(page, name)
        page = f"{page[: found.start(2)]}\n{rows}\n\n{page[found.end(2) :]}"
    return page


def _sources() -> Sources:
    paths = [path for room in ("model", "app") for path in (ROOT / room).rglob("*.py")]
    return {path.relative_to(ROOT).as_posix(): path.read_text("utf-8") for path in paths}


def test_tables_equal_the_tree() -> None:
    page = (ROOT / "DEVELOPERS.md").read_text("utf-8")
    assert table_faults(page, _sources()) == [], "uv run python tests/test_documents.py"


SMALL_TREE: Final = {
    "model/base/__init__.py": '"""What every room needs."""',
    "model/base/units.py": '"""Conversion at the border:\nany | unit.\n\nMore."""',
    "app/cli.py": '"""The command line."""',
}
SMALL_PAGE: Final = (
    "<!-- rooms -->\n| `model/base` | What every room needs. |\n<!-- end of rooms -->\n"
    "<!-- modules -->\n| `app/cli.py` | The command line. |\n"
    "| `model/base/units.py` | Conversion at the border: any \\| unit. |\n"
    "<!-- end of modules -->\n"
)


def test_right_tables_pass() -> None:
    assert table_faults(SMALL_PAGE, SMALL_TREE) == []


@pytest.mark.parametrize(
    ("old", "new", "faults"),
    [
        ("| `app/cli.py` | The command line. |\n", "", ["missing"]),
        ("<!-- end of modules", "| `app/old.py` | Gone. |\n<!-- end of modules", ["extra"]),
        ("The command line.", "The web.", ["missing", "extra"]),
        ("| `model/base` |", "| `model/attic` |", ["missing", "extra"]),
        (
            "<!-- end of rooms",
            "| `model/base` | What every room needs. |\n<!-- end of rooms",
            ["or"],
        ),
    ],
)
def test_wrong_table_is_found(old: str, new: str, faults: list[str]) -> None:
    found = table_faults(SMALL_PAGE.replace(old, new), SMALL_TREE)
    assert len(found) == len(faults)
    assert all(word in fault for word, fault in zip(faults, found, strict=True))


def test_tables_are_written_from_the_tree() -> None:
    emptied = re.sub(r"\| `.*\n", "", SMALL_PAGE)
    assert table_faults(emptied, SMALL_TREE) != []
    assert table_faults(with_tables(emptied, SMALL_TREE), SMALL_TREE) == []


# --- README.md and the command line ------------------------------------------------------


@dataclass(frozen=True, kw_only=True)
class Command:
    """A command of the program: its help text and the options it takes."""

    help: str
    options: frozenset[str]


def _code(page: str) -> list[str]:
    """Lines of fenced code, and what stands between backticks elsewhere."""
    fenced = re.findall(r"^```[^\n]*\n(.*?)^```", page, re.DOTALL | re.MULTILINE)
    rest = re.sub(r"^```.*?^```", "", page, flags=re.DOTALL | re.MULTILINE)
    return [line for block in fenced for line in block.splitlines()] + re.findall(
        r"`([^`]+)`", rest
    )


def _named_commands(page: str) -> list[tuple[str, list[str]]]:
    """Each use of the program in code: the command and the options given to it."""
    uses = [use for line in _code(page) for use in re.findall(r"\bkedgewise +([a-z].*)", line)]
    return [(use.split()[0], re.findall(r"(?<!\S)--?[a-z][a-z-]*", use)) for use in uses]


def readme_faults(page: str, commands: Mapping[str, Command]) -> list[str]:
    lines = [line.strip() for line in _code(page)]
    faults = [f"no line {line!r}" for line in README_COMMANDS if line not in lines]
    uses = _named_commands(page)
    named = {name for name, _ in uses}
    faults += [f"{name} is not named" for name in sorted(set(commands) - named)]
    faults += [f"there is no command {name}" for name in sorted(named - set(commands))]
    return faults + [
        f"{name} has no option {option}"
        for name, options in uses
        if name in commands
        for option in options
        if option not in commands[name].options
    ]


def help_faults(commands: Mapping[str, Command]) -> list[str]:
    return [
        f"the help of {name} has no example"
        for name, command in commands.items()
        if not re.search(rf"\bkedgewise {re.escape(name)}\b", command.help)
    ]


@pytest.fixture(scope="module")
def commands() -> dict[str, Command]:
    from typer.main import get_command

    from app.cli import app

    group = get_command(app)
    return {
        name: Command(
            help=f"{command.help or ''}\n{command.epilog or ''}",
            options=frozenset({"--help"}.union(*(option.opts for option in command.params))),
        )
        for name, command in group.commands.items()
        if not command.hidden
    }


def test_readme_and_command_line_agree(commands: dict[str, Command]) -> None:
    assert readme_faults((ROOT / "README.md").read_text("utf-8"), commands) == []


def test_every_help_has_an_example(commands: dict[str, Command]) -> None:
    assert commands
    assert help_faults(commands) == []


@pytest.mark.parametrize("option", ["--json", "--store"])
def test_every_command_takes(option: str, commands: dict[str, Command]) -> None:
    assert [name for name, command in commands.items() if option not in command.options] == []


SMALL_README: Final = f"""# kedgewise

```sh
{README_COMMANDS[0]}
{README_COMMANDS[1]}
```

Then `kedgewise ask leader --json`; kedgewise tells what it knows.
"""
SMALL_COMMANDS: Final = {
    "demo": Command(help="Make it.\n\n  kedgewise demo", options=frozenset({"--help"})),
    "ask": Command(help="Ask it.\n\n  kedgewise ask leader", options=frozenset({"--json"})),
}


def test_right_readme_passes() -> None:
    assert readme_faults(SMALL_README, SMALL_COMMANDS) == []
    assert help_faults(SMALL_COMMANDS) == []


@pytest.mark.parametrize(
    ("old", "new", "fault"),
    [
        ("uv && uv run pytest", "uv; uv run pytest", f"no line {README_COMMANDS[1]!r}"),
        ("kedgewise ask", "kedgewise query", "ask is not named"),
        ("`;", "` or `kedgewise sail`;", "there is no command sail"),
        ("--json", "--yaml", "ask has no option --yaml"),
    ],
)
def test_wrong_readme_is_found(old: str, new: str, fault: str) -> None:
    assert fault in readme_faults(SMALL_README.replace(old, new), SMALL_COMMANDS)


def test_help_without_example_is_found() -> None:
    bare = {"ask": Command(help="Ask a question.", options=frozenset())}
    assert help_faults(bare) == ["the help of ask has no example"]


# --- the top level -----------------------------------------------------------------------


def stray_entries(paths: Iterable[str]) -> list[str]:
    top = {path.split("/")[0] for path in paths}
    return sorted(name for name in top - TOP_LEVEL if not name.startswith("."))


def missing_entries(paths: Iterable[str]) -> list[str]:
    return sorted(TOP_LEVEL - {path.split("/")[0] for path in paths})


def _kept_files() -> list[str]:
    """Files under version control; in an unpacked archive, every file there is."""
    if not (ROOT / ".git").exists():
        return [path.relative_to(ROOT).as_posix() for path in ROOT.rglob("*") if path.is_file()]
    git = ["git", "-c", f"safe.directory={ROOT.as_posix()}", "-C", str(ROOT), "ls-files"]
    return subprocess.run(git, check=True, capture_output=True, text=True).stdout.splitlines()


def test_top_level_is_what_was_agreed() -> None:
    paths = _kept_files()
    assert stray_entries(paths) == []
    assert missing_entries(paths) == []


def test_stray_or_missing_entry_is_found() -> None:
    paths = [f"{name}/x" for name in TOP_LEVEL - {"data"}] + ["design/plan.md", ".ci/run"]
    assert stray_entries(paths) == ["design"]
    assert missing_entries(paths) == ["data"]


if __name__ == "__main__":
    developers = ROOT / "DEVELOPERS.md"
    developers.write_text(with_tables(developers.read_text("utf-8"), _sources()), "utf-8")
