"""Every notebook runs from top to bottom and shows something."""

from pathlib import Path
from typing import Final

import nbformat
import pytest
from nbclient import NotebookClient
from nbclient.exceptions import CellExecutionError
from nbformat import NotebookNode
from nbformat.v4 import new_code_cell, new_markdown_cell, new_notebook

pytestmark = pytest.mark.notebook

ROOT: Final = Path(__file__).resolve().parents[2]
NOTEBOOKS: Final = sorted((ROOT / "notebooks").glob("*.ipynb"))
CELL_TIMEOUT_S: Final = 240  # a fit of the demo's size takes about half a minute


def execute(notebook: NotebookNode, folder: Path) -> NotebookNode:
    """Run a copy of the notebook in its folder; an error in a cell is an error here."""
    client = NotebookClient(
        nbformat.from_dict(notebook),
        timeout=CELL_TIMEOUT_S,
        kernel_name="python3",
        resources={"metadata": {"path": str(folder)}},
    )
    return client.execute()


def faults(notebook: NotebookNode) -> list[str]:
    """What is wrong with an executed notebook."""
    code = [cell for cell in notebook.cells if cell.cell_type == "code" and cell.source.strip()]
    found = [] if any(cell.outputs for cell in code) else ["it shows nothing"]
    return found + [
        f"a warning in: {cell.source.splitlines()[0]}"
        for cell in code
        for output in cell.outputs
        if output.get("name") == "stderr" and "Warning" in output.get("text", "")
    ]


def test_there_are_notebooks() -> None:
    assert NOTEBOOKS


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.stem)
def test_notebook_runs(path: Path) -> None:
    notebook = nbformat.read(path, as_version=4)
    nbformat.validate(notebook)
    assert faults(execute(notebook, path.parent)) == []


def test_a_notebook_that_shows_something_passes(tmp_path: Path) -> None:
    notebook = new_notebook(cells=[new_markdown_cell("A story"), new_code_cell("1 + 1")])
    assert faults(execute(notebook, tmp_path)) == []


def test_a_failing_cell_is_found(tmp_path: Path) -> None:
    notebook = new_notebook(cells=[new_code_cell("1 + 1"), new_code_cell("1 / 0")])
    with pytest.raises(CellExecutionError, match="ZeroDivisionError"):
        execute(notebook, tmp_path)


@pytest.mark.parametrize(
    ("source", "fault"),
    [
        ("quiet = 1", "it shows nothing"),
        ("import warnings\nwarnings.warn('old')\n1", "a warning in: import warnings"),
    ],
)
def test_a_quiet_or_warning_notebook_is_found(source: str, fault: str, tmp_path: Path) -> None:
    notebook = new_notebook(cells=[new_code_cell(source)])
    assert faults(execute(notebook, tmp_path)) == [fault]
