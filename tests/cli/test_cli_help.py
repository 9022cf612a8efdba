import subprocess
import sys

import pytest

COMMANDS = ["demo", "new", "import", "fit", "ask", "modes", "stores", "serve", "work"]
HEAVY = ("numba", "nutpie", "xarray", "sqlalchemy", "streamlit", "pint", "pandas")

IMPORTED = """
import sys
from app.cli import run
code = run(["--help"])
print(code, *sorted({name.partition(".")[0] for name in sys.modules}), file=sys.stderr)
"""


def test_help_lists_every_command_and_loads_nothing_heavy():
    found = subprocess.run(
        [sys.executable, "-c", IMPORTED], capture_output=True, text=True, check=True
    )
    code, *modules = found.stderr.split()
    assert code == "0"
    assert [name for name in COMMANDS if name not in found.stdout] == []
    assert "typer" in modules
    assert set(HEAVY) & set(modules) == set()


@pytest.mark.parametrize("command", COMMANDS)
def test_every_command_has_an_example(kedgewise, command):
    found = kedgewise(command, "--help")
    assert found.code == 0
    assert f"kedgewise {command}" in found.out
    assert "--json" in found.out
    assert "--store" in found.out
