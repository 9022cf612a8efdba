"""The arrows between the rooms of the house, read from every import in the code.

Imports inside functions, under ``TYPE_CHECKING`` and by name through
``importlib`` count like any other. Each check is a function from sources to a
list of faults, so that the tests below can show it failing.
"""

import ast
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from graphlib import CycleError, TopologicalSorter
from pathlib import Path
from typing import Final

import pytest

ROOT: Final = Path(__file__).resolve().parents[1]
Sources = Mapping[str, str]  # path from the root, with slashes -> text

LAYERS: Final[tuple[tuple[str, ...], ...]] = (  # lowest first; rooms on one line are strangers
    ("model.base",),
    ("model.records",),
    ("model.arrays", "model.outcomes"),
    ("model.posterior", "model.instruments"),
    ("model.ingest", "model.store", "model.simulate"),
    ("model.graph", "model.questions"),
    ("model.inference", "model.planning"),
    ("model.checks",),
    ("model.report",),
    ("model.service", "model.calibration"),
    ("app",),
)
LAYER_OF: Final = {room: height for height, rooms in enumerate(LAYERS) for room in rooms}

SAMPLERS: Final = ("numba", "nutpie")
KEPT_TO: Final[dict[str, tuple[str, ...]]] = {  # library -> the only rooms that may import it
    "numba": ("model.graph",),
    "nutpie": ("model.inference",),
    **dict.fromkeys(("sqlalchemy", "alembic"), ("model.store",)),
    **dict.fromkeys(
        ("altair", "vl_convert", "matplotlib", "plotly", "bokeh", "arviz_plots", "arviz"),
        ("model.report", "app"),
    ),
    "streamlit": ("app",),
}
WEB_PAGES: Final = ("app.views", "app.main", "app.doors")  # what the web server's process loads
NEVER_REACHED: Final[dict[str, tuple[str, ...]]] = {  # prefix -> what it never reaches, however far
    **dict.fromkeys(WEB_PAGES, SAMPLERS),
    # The simulator is written apart from the formula, so that a shared bug cannot hide.
    "model.simulate": ("model.outcomes", "model.graph"),
}


@dataclass(frozen=True, kw_only=True)
class Import:
    """One import: where it stands and the full dotted name it asks for."""

    path: str
    line: int
    name: str

    def __str__(self) -> str:
        return f"{self.path}:{self.line} imports {self.name}"


def module_name(path: str) -> str:
    return re.sub(r"(/__init__)?\.py$", "", path).replace("/", ".")


def is_within(name: str, package: str) -> bool:
    return name == package or name.startswith(f"{package}.")


def room_of(name: str) -> str | None:
    """The room of a dotted name: None for `model` itself and for other people's code."""
    if is_within(name, "app"):
        return "app"
    parts = name.split(".")
    return ".".join(parts[:2]) if parts[0] == "model" and len(parts) > 1 else None


def _names_of_import_from(path: str, node: ast.ImportFrom) -> list[str]:
    start = node.module or ""
    if node.level:
        package = path.removesuffix(".py").split("/")[: -node.level]
        start = ".".join([*package, start] if start else package)
    return [f"{start}.{alias.name}" for alias in node.names]


def _name_of_call(node: ast.Call) -> str | None:
    """What a call imports by name; None where it is no import, "?" where it cannot be read."""
    function = ast.unparse(node.func)
    if function not in {"importlib.import_module", "import_module", "__import__"}:
        return None
    if node.args and isinstance(node.args[0], ast.Constant) and isinstance(node.args[0].value, str):
        return node.args[0].value
    return "?"


def imports_of(path: str, text: str) -> Iterator[Import]:
    for node in ast.walk(ast.parse(text, path)):
        names: list[str] = []
        if isinstance(node, ast.Import):
            names = [alias.name for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            names = _names_of_import_from(path, node)
        elif isinstance(node, ast.Call):
            name = _name_of_call(node)
            names = [] if name is None else [name]
        for name in names:
            yield Import(path=path, line=getattr(node, "lineno", 0), name=name)


def all_imports(sources: Sources) -> list[Import]:
    return [found for path, text in sources.items() for found in imports_of(path, text)]


def unknown_rooms(sources: Sources) -> list[str]:
    rooms = {room for path in sources if (room := room_of(module_name(path))) is not None}
    return [f"{room} stands on no layer" for room in sorted(rooms - set(LAYER_OF))]


def unreadable_imports(sources: Sources) -> list[str]:
    return [f"{found}: name it literally" for found in all_imports(sources) if found.name == "?"]


def upward_or_sideways(sources: Sources) -> list[str]:
    faults = []
    for found in all_imports(sources):
        here, there = room_of(module_name(found.path)), room_of(found.name)
        if there is None or there == here:
            continue
        if there not in LAYER_OF:
            faults.append(f"{found}: {there} stands on no layer")
        elif here not in LAYER_OF or LAYER_OF[there] >= LAYER_OF[here]:
            faults.append(f"{found}: {there} is not below {here}")
    return faults


def libraries_out_of_place(sources: Sources) -> list[str]:
    return [
        f"{found}: {library} is kept to {', '.join(rooms)}"
        for found in all_imports(sources)
        for library, rooms in KEPT_TO.items()
        if is_within(found.name, library) and room_of(module_name(found.path)) not in rooms
    ]


def _graph(sources: Sources) -> dict[str, set[str]]:
    """Module -> the modules and outside libraries it imports, each by its own name."""
    modules = {module_name(path) for path in sources}
    graph: dict[str, set[str]] = {module: set() for module in modules}
    for found in all_imports(sources):
        name = found.name
        while "." in name and name not in modules and room_of(name) is not None:
            name = name.rpartition(".")[0]  # a class or constant: its module is what is loaded
        graph[module_name(found.path)].add(name if room_of(name) else name.partition(".")[0])
    return graph


def _route(graph: Mapping[str, set[str]], start: str, targets: tuple[str, ...]) -> list[str]:
    """The shortest chain of imports from `start` to any of `targets`; empty if there is none."""
    routes, seen = [[start]], {start}
    for route in routes:  # grows while it is read: breadth first
        for name in sorted(graph.get(route[-1], ())):
            if any(is_within(name, target) for target in targets):
                return [*route, name]
            if name not in seen:
                seen.add(name)
                routes.append([*route, name])
    return []


def forbidden_reach(sources: Sources) -> list[str]:
    graph = _graph(sources)
    return [
        " -> ".join(route)
        for module in sorted(graph)
        for prefix, targets in NEVER_REACHED.items()
        if is_within(module, prefix) and (route := _route(graph, module, targets))
    ]


def circles(sources: Sources) -> list[str]:
    graph = {module: names - {module} for module, names in _graph(sources).items()}
    try:
        TopologicalSorter(graph).prepare()
    except CycleError as error:
        return [" -> ".join(error.args[1])]
    return []


CHECKS: Final = (
    unknown_rooms,
    unreadable_imports,
    upward_or_sideways,
    libraries_out_of_place,
    forbidden_reach,
    circles,
)


@pytest.fixture(scope="module")
def sources() -> Sources:
    paths = [path for room in ("model", "app") for path in sorted((ROOT / room).rglob("*.py"))]
    return {path.relative_to(ROOT).as_posix(): path.read_text("utf-8") for path in paths}


def test_sources_are_the_whole_tree(sources: Sources) -> None:
    assert {"model/base/errors.py", "model/records/pull.py", "app/__init__.py"} <= set(sources)
    assert all_imports(sources), "no import was read at all"


@pytest.mark.parametrize("check", CHECKS, ids=lambda check: check.__name__)
def test_house_holds(check, sources: Sources) -> None:
    assert check(sources) == []


WRONG: Final = {
    "an upward import": (
        upward_or_sideways,
        {"model/records/pull.py": "from model.store.facts import read"},
    ),
    "an upward import by the room's own name": (
        upward_or_sideways,
        {"model/records/pull.py": "from model import store"},
    ),
    "an upward import of the app": (
        upward_or_sideways,
        {"model/service/ask.py": "import app.cli"},
    ),
    "a sideways import": (
        upward_or_sideways,
        {"model/graph/load.py": "import model.questions.answer"},
    ),
    "an import inside a function": (
        upward_or_sideways,
        {"model/base/units.py": "def f():\n    def g():\n        from model.graph import load"},
    ),
    "an import inside a method": (
        upward_or_sideways,
        {"model/base/units.py": "class A:\n    def f(self):\n        import model.records.pull"},
    ),
    "an import for types only": (
        upward_or_sideways,
        {
            "model/arrays/rows.py": (
                "from typing import TYPE_CHECKING\n"
                "if TYPE_CHECKING:\n    from model.posterior.posterior import Posterior"
            )
        },
    ),
    "an import by name": (
        upward_or_sideways,
        {"model/arrays/rows.py": "import importlib\nimportlib.import_module('model.graph.load')"},
    ),
    "a relative import": (
        upward_or_sideways,
        {"model/arrays/rows.py": "from ..graph import load"},
    ),
    "an import of a room that nobody drew": (
        upward_or_sideways,
        {"model/service/ask.py": "from model.attic.boxes import box"},
    ),
    "a room that nobody drew": (unknown_rooms, {"model/attic/boxes.py": ""}),
    "an import by a name that cannot be read": (
        unreadable_imports,
        {"app/main.py": "from importlib import import_module\nimport_module('model.' + room)"},
    ),
    "a sampler in questions": (
        libraries_out_of_place,
        {"model/questions/ask.py": "def f():\n    import nutpie"},
    ),
    "machine code in outcomes": (
        libraries_out_of_place,
        {"model/outcomes/formula.py": "import numba"},
    ),
    "a database outside the store": (
        libraries_out_of_place,
        {"model/service/ask.py": "from sqlalchemy.orm import Session"},
    ),
    "a plot in planning": (libraries_out_of_place, {"model/planning/day.py": "import altair"}),
    "a web page in the report": (
        libraries_out_of_place,
        {"model/report/page.py": "import streamlit"},
    ),
    "a view that reaches the sampler through others": (
        forbidden_reach,
        {
            "app/views/ask.py": "from model.service.ask import answer",
            "model/service/ask.py": "def answer():\n    from model.service import fit",
            "model/service/fit.py": "from model.inference.sample import draw",
            "model/inference/sample.py": "import nutpie",
        },
    ),
    "a simulator that reaches the formula": (
        forbidden_reach,
        {
            "model/simulate/pull.py": "from model.posterior.posterior import Posterior",
            "model/posterior/posterior.py": "from model.outcomes.formula import log_load",
            "model/outcomes/formula.py": "",
        },
    ),
    "a circle inside a room": (
        circles,
        {
            "model/store/facts.py": "from model.store.schema import Table",
            "model/store/schema.py": "def f():\n    from model.store.facts import read",
        },
    ),
}


@pytest.mark.parametrize("name", WRONG)
def test_wrong_import_is_found(name: str) -> None:
    check, broken = WRONG[name]
    assert len(check(broken)) == 1


def test_right_imports_pass() -> None:
    tidy = {
        "app/cli.py": "from app.words import say\nfrom model.service import fit",
        "app/words.py": "import streamlit",
        "app/views/ask.py": "from model.service.ask import answer",
        "model/service/ask.py": "from model.questions.answer import Answer",
        "model/service/fit.py": "from model.inference.sample import draw",
        "model/inference/sample.py": "import nutpie\nfrom model.graph.load import build",
        "model/graph/load.py": "import numba\nfrom model.outcomes.formula import log_load",
        "model/outcomes/formula.py": "import numpy\nfrom model.base import names",
        "model/base/names.py": "import arviz_stats",
    }
    assert [fault for check in CHECKS for fault in check(tidy)] == []


def test_a_route_is_told_step_by_step() -> None:
    _, broken = WRONG["a view that reaches the sampler through others"]
    steps = "app.views.ask -> model.service.ask -> model.service.fit -> model.inference.sample"
    assert forbidden_reach(broken) == [f"{steps} -> nutpie"]
