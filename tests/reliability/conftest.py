"""Running the scripts beside these tests, and places that have no room."""

import json
import resource
import signal
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from model.ingest.campaign_file import read_campaign
from model.store.store import Store

HERE = Path(__file__).parent
ROOM_BYTES = 4_000_000


@pytest.fixture
def script(tmp_path):
    """Run a script with options; gives its exit code and what it found."""

    def run(name: str, *options: object) -> tuple[int, dict]:
        results = tmp_path / "results.json"
        command = [sys.executable, str(HERE / name), *map(str, options)]
        command += ["--work", str(tmp_path / "work"), "--results", str(results)]
        done = subprocess.run(command, capture_output=True, text=True, check=False)
        assert results.exists(), done.stderr
        return done.returncode, json.loads(results.read_text("utf-8"))

    return run


def _mounts_a_small_disk(folder: Path) -> bool:
    command = ["mount", "-t", "tmpfs", "-o", f"size={ROOM_BYTES}", "tmpfs", str(folder)]
    try:
        return subprocess.run(command, capture_output=True, check=False).returncode == 0
    except OSError:
        return False


class SmallDisk:
    """A folder on a disk that can be filled, and emptied again.

    A disk of its own where one may be mounted. Elsewhere no file may grow beyond the largest one
    here and what is left, or at all: the system then refuses a write as a full disk would.
    """

    def __init__(self, folder: Path, *, is_mounted: bool) -> None:
        self.folder = folder
        self.is_mounted = is_mounted
        self._ballast = folder / "ballast"

    @contextmanager
    def full(self, *, left_bytes: int = 0) -> Iterator[None]:
        """With no more room than is said."""
        if self.is_mounted:
            self._fill(left_bytes)
            try:
                yield
            finally:
                self._ballast.unlink()
            return
        largest = max(path.stat().st_size for path in self.folder.rglob("*") if path.is_file())
        most = largest + left_bytes if left_bytes else 0
        before, heard = resource.getrlimit(resource.RLIMIT_FSIZE), signal.getsignal(signal.SIGXFSZ)
        signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
        resource.setrlimit(resource.RLIMIT_FSIZE, (most, before[1]))
        try:
            yield
        finally:
            resource.setrlimit(resource.RLIMIT_FSIZE, before)
            signal.signal(signal.SIGXFSZ, heard)

    def _fill(self, left_bytes: int) -> None:
        with self._ballast.open("wb", buffering=0) as file:
            try:
                while True:
                    file.write(b"\0" * 4096)
            except OSError:
                file.truncate(max(0, file.tell() - left_bytes))


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[SmallDisk]:
    folder = tmp_path / "disk"
    folder.mkdir()
    is_mounted = _mounts_a_small_disk(folder)
    yield SmallDisk(folder, is_mounted=is_mounted)
    if is_mounted:
        subprocess.run(["umount", "-l", str(folder)], check=True)


@pytest.fixture
def store(small_disk: SmallDisk) -> Store:
    return Store.create(small_disk.folder / "store", read_campaign(HERE / "trials.toml"))
