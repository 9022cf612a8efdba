"""The whole check fails on a skipped test and on a run without tests."""

import os
import subprocess
import sys
from pathlib import Path
from typing import Final

import pytest

ROOT: Final = Path(__file__).resolve().parents[1]
PASSES: Final = "def test_it():\n    assert True\n"
SKIPS: Final = "import pytest\n\ndef test_it():\n    pytest.skip('not today')\n"
EXPECTED_TO_FAIL: Final = "import pytest\n\n@pytest.mark.xfail\ndef test_it():\n    assert False\n"


def _run(*command: str, folder: Path) -> int:
    bare = {name: value for name, value in os.environ.items() if name != "PYTEST_ADDOPTS"}
    bare["PYTEST_DISABLE_PLUGIN_AUTOLOAD"] = "1"  # none is needed, and each costs time
    return subprocess.run(
        [sys.executable, *command],
        cwd=folder,
        env=bare,
        check=False,
        capture_output=True,
        timeout=60,
    ).returncode


@pytest.mark.parametrize(
    ("files", "expected"),
    [
        ([PASSES], 0),
        ([PASSES, SKIPS], 1),
        ([PASSES, EXPECTED_TO_FAIL], 1),
        ([], 1),
    ],
    ids=["all ran", "one skipped", "one expected to fail", "none there"],
)
def test_a_run_is_judged(files: list[str], expected: int, tmp_path: Path) -> None:
    for number, text in enumerate(files):
        (tmp_path / f"test_{number}.py").write_text(text, "utf-8")
    report = ["-p", "no:cacheprovider", "--junitxml=report.xml"]
    assert _run("-m", "pytest", *report, folder=tmp_path) == (0 if files else 5)
    assert _run(str(ROOT / ".ci" / "none_skipped.py"), "report.xml", folder=tmp_path) == expected
