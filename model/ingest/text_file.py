"""A file's text: UTF-8 of a sensible size, or one clear fault."""

from dataclasses import dataclass
from pathlib import Path
from typing import Final

from model.base.errors import Fault, FaultyFile, InputError

MAX_BYTES: Final = 20_000_000
"""A bigger file is refused before it is read: a year of pulls is well below 1 MB."""

_PIECE: Final = 65_536
_WORKBOOK: Final = b"PK\x03\x04"
_OLD_WORKBOOK: Final = b"\xd0\xcf\x11\xe0"
_MARKS: Final = {
    b"\xff\xfe\x00\x00": "UTF-32",
    b"\x00\x00\xfe\xff": "UTF-32",
    b"\xff\xfe": "UTF-16",
    b"\xfe\xff": "UTF-16",
}
"""Byte order marks of other encodings; the longer ones first, as one begins like a shorter."""
_UTF_8_MARK: Final = b"\xef\xbb\xbf"
_JOINT: Final = b"\n" + _UTF_8_MARK


@dataclass(frozen=True, kw_only=True)
class Kind:
    """What a file is meant to be: for the words of its faults."""

    name: str
    save: str
    hint: str = ""


LOG: Final = Kind(
    name="the log",
    save="Save it as UTF-8 text (in a spreadsheet: CSV UTF-8), or as .xlsx, and import it again",
)


def printable(path: Path) -> str:
    """A file's name for messages and the store; bytes that are no text are written as escapes."""
    return path.name.encode("utf-8", "backslashreplace").decode("utf-8")


def read_text(path: Path, *, max_bytes: int = MAX_BYTES, kind: Kind = LOG) -> str:
    """Text of a file, without a byte order mark.

    Parameters
    ----------
    path : pathlib.Path
        File to read.
    max_bytes : int
        Above this the file is refused; no more than one byte beyond it is read.
    kind : Kind
        What the file is meant to be.

    Raises
    ------
    InputError
        If there is no such file or it cannot be read.
    FaultyFile
        If it is too big, not UTF-8, holds a NUL byte or several files in one.
    """
    content = read_content(path, max_bytes=max_bytes, kind=kind)
    return decoded(printable(path), content, kind=kind)


def read_content(path: Path, *, max_bytes: int = MAX_BYTES, kind: Kind = LOG) -> bytes:
    """Bytes of a file of sensible size; see :func:`read_text`.

    Raises
    ------
    InputError
        If there is no such file or it cannot be read.
    FaultyFile
        If it is too big.
    """
    source = printable(path)
    try:
        size = path.stat().st_size
        if path.is_dir():
            raise InputError(f"{path.parent / source} is a folder", hint="Name a file in it.")
        content = b"" if size > max_bytes else _read(path, max_bytes + 1)
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or error
        raise InputError(
            f"cannot read {path.parent / source}: {reason}", hint="Check the file's name."
        ) from error
    if max(size, len(content)) > max_bytes:
        found = f"{size / 1e6:.1f} MB" if size > max_bytes else f"over {max_bytes / 1e6:g} MB"
        remedy = f"Files up to {max_bytes / 1e6:g} MB are read: split it, or check that it is "
        raise _refused(source, kind, None, found, remedy + kind.name)
    return content


def _read(path: Path, most: int) -> bytes:
    """The first bytes: a pipe or a device tells no size, and may have no end."""
    content = bytearray()
    with path.open("rb") as file:
        # All at once would set the most aside for the smallest file.
        while len(content) < most and (more := file.read(min(_PIECE, most - len(content)))):
            content += more
    return bytes(content)


def decoded(source: str, content: bytes, *, kind: Kind = LOG) -> str:
    """Text of a file that is in memory already; see :func:`read_text`.

    Raises
    ------
    FaultyFile
        If it is not UTF-8, holds a NUL byte or several files in one.
    """
    if content.startswith(_WORKBOOK):
        found = "a spreadsheet workbook or archive, not text"
        raise _refused(source, kind, None, found, kind.save)
    if content.startswith(_OLD_WORKBOOK):
        found = "an old workbook (.xls) or another office file, not text"
        raise _refused(source, kind, None, found, kind.save)
    other = next((name for mark, name in _MARKS.items() if content.startswith(mark)), None)
    if other is not None:
        raise _refused(source, kind, 1, f"{other} text (byte 0)", kind.save)
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        # With a byte order mark the decoder counts from behind it.
        offset = error.start + (len(_UTF_8_MARK) if content.startswith(_UTF_8_MARK) else 0)
        found = f"a byte that is not UTF-8 (byte {offset}: 0x{content[offset]:02x})"
        raise _refused(source, kind, _line(content, offset), found, kind.save) from error
    for bad, found, remedy in (
        (b"\0", "a NUL byte", f"It is no plain text. {kind.save}"),
        (_JOINT, "a byte order mark at the beginning of a line", "Keep one file of the two"),
    ):
        offset = content.find(bad)
        if offset >= 0:
            line = _line(content, offset + len(bad) - 1)
            raise _refused(source, kind, line, f"{found} (byte {offset})", remedy)
    return text


def _line(content: bytes, offset: int) -> int:
    return content.count(b"\n", 0, offset) + 1


def _refused(source: str, kind: Kind, line: int | None, found: str, remedy: str) -> FaultyFile:
    fault = Fault(source=source, line=line, column=None, found=found, remedy=remedy)
    return FaultyFile([fault], hint=kind.hint)
