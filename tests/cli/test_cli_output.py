"""Standard output in narrow encodings, on full disks, and when things go wrong half way."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

from app import serving
from model.base.errors import KedgewiseError

FULL = Path("/dev/full")

ALL_NEW = {"added": 16, "skipped": 0, "taken_out_before": 0, "corrected": []}


def _run(*arguments: str, **more: str) -> subprocess.CompletedProcess[bytes]:
    command = [sys.executable, "-c", "from app.cli import main; main()", *arguments]
    return subprocess.run(command, capture_output=True, env=os.environ | more, check=False)


def test_signs_that_the_encoding_lacks(fitted, tmp_path):
    found = _run("ask", "--store", str(tmp_path / "store"), PYTHONIOENCODING="cp1252")
    assert (found.returncode, b"Traceback" in found.stderr) == (0, False)
    said = found.stdout.decode("cp1252")
    assert "? not settled" in said
    assert "±" in said or "×" in said  # what the encoding has stays


def test_without_the_replacement_it_breaks_down(fitted, tmp_path):
    code = "import sys; from app.cli import run; sys.exit(run(sys.argv[1:]))"
    found = subprocess.run(
        [sys.executable, "-c", code, "ask", "--store", str(tmp_path / "store")],
        capture_output=True,
        env=os.environ | {"PYTHONIOENCODING": "cp1252"},
        check=False,
    )
    assert (found.returncode, b"UnicodeEncodeError" in found.stderr) == (1, True)


@pytest.mark.skipif(not FULL.exists(), reason="no full device here")
@pytest.mark.parametrize(
    ("arguments", "code", "words"),
    [
        (("ask", "--json"), 1, "standard output cannot be written"),
        (("ask",), 1, "standard output cannot be written"),
        (("ask", "nothing of the kind", "--json"), 2, "no standing question"),
    ],
)
def test_a_full_disk_is_one_line(fitted, tmp_path, arguments, code, words):
    command = [sys.executable, "-c", "from app.cli import main; main()", *arguments]
    with FULL.open("w") as full:
        found = subprocess.run(
            [*command, "--store", str(tmp_path / "store")],
            stdout=full,
            stderr=subprocess.PIPE,
            text=True,
            check=False,
        )
    assert found.returncode == code
    assert found.stderr.startswith("error: ")
    assert words in found.stderr
    assert "Traceback" not in found.stderr
    assert "Exception ignored" not in found.stderr


def test_files_stored_before_the_bad_one_are_said(kedgewise, campaign_file, log_file):
    kedgewise("new", str(campaign_file))
    bad = log_file.with_name("bad.csv")
    bad.write_text(log_file.read_text("utf-8").replace("S6", "Q1", 1), "utf-8")
    found = kedgewise("import", str(log_file), str(bad), "--json")
    assert found.code == 2
    assert found.json["files"] == [ALL_NEW | {"file": "pulls.csv"}]
    assert found.json["faults"][0]["source"] == "bad.csv"
    assert "files" not in kedgewise("import", str(bad), "--json").json


@pytest.mark.skipif(sys.platform in ("win32", "darwin"), reason="no such names there")
def test_a_file_whose_name_is_no_text(kedgewise, campaign_file, log_file):
    kedgewise("new", str(campaign_file))
    odd = log_file.with_name("log\udcff.csv")
    odd.write_bytes(log_file.read_bytes())
    found = kedgewise("import", str(odd), "--json")
    assert found.json["files"] == [ALL_NEW | {"file": "log\\udcff.csv"}]


@pytest.mark.parametrize("is_ready", [True, False])
def test_serve_prints_one_object(is_ready, kedgewise, campaign_file, monkeypatch):
    def serve(folder, *, port, when_ready, has_worker):
        if is_ready:
            when_ready(serving.url_of(port))
        raise KedgewiseError("the web app ended by itself (code 7)")

    kedgewise("new", str(campaign_file))
    monkeypatch.setattr(serving, "serve", serve)
    found = kedgewise("serve", "--json")
    assert found.code == 1
    assert ("url" in found.json) is is_ready  # one object in either case
    assert "ended by itself" in found.err
