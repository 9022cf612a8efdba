"""A file's text: UTF-8 of a sensible size, or one clear fault."""

from pathlib import Path
from typing import Final

from model.base.errors import Fault, FaultyFile, InputError

MAX_BYTES: Final = 20_000_000
"""A bigger file is refused before it is read: a year of pulls is well below 1 MB."""

SAVE_AS_UTF8: Final = "Save it as UTF-8 text (in a spreadsheet: CSV UTF-8) and import it again"
_WORKBOOK: Final = b"PK\x03\x04"
_UTF_16: Final = (b"\xff\xfe", b"\xfe\xff")


def read_text(path: Path, *, max_bytes: int = MAX_BYTES) -> str:
    """Text of a file, without a byte order mark.

    Parameters
    ----------
    path : pathlib.Path
        File to read.
    max_bytes : int
        Above this the file is not read in.

    Raises
    ------
    InputError
        If there is no such file or it cannot be read.
    FaultyFile
        If it is too big, not UTF-8 or holds a NUL byte.
    """
    try:
        size = path.stat().st_size
        if path.is_dir():
            raise InputError(f"{path} is a folder", hint="Name a file in it.")
        if size > max_bytes:
            raise _refused(path, None, f"{size / 1e6:.1f} MB", _smaller(max_bytes))
        content = path.read_bytes()
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or error
        raise InputError(f"cannot read {path}: {reason}", hint="Check the file's name.") from error
    return _decoded(path, content)


def _smaller(max_bytes: int) -> str:
    return f"Files up to {max_bytes / 1e6:g} MB are read: split it, or check that it is the log"


def _decoded(path: Path, content: bytes) -> str:
    if content.startswith(_WORKBOOK):
        raise _refused(path, None, "a spreadsheet workbook or archive, not text", SAVE_AS_UTF8)
    if content.startswith(_UTF_16):
        raise _refused(path, 1, "UTF-16 text (byte 0)", SAVE_AS_UTF8)
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        # With a byte order mark the decoder counts from behind it.
        offset = error.start + (3 if content.startswith(b"\xef\xbb\xbf") else 0)
        found = f"a byte that is not UTF-8 (byte {offset}: 0x{content[offset]:02x})"
        raise _refused(path, _line(content, offset), found, SAVE_AS_UTF8) from error
    if b"\0" in content:
        offset = content.index(b"\0")
        found = f"a NUL byte (byte {offset})"
        raise _refused(path, _line(content, offset), found, f"It is no plain text. {SAVE_AS_UTF8}")
    return text


def _line(content: bytes, offset: int) -> int:
    return content.count(b"\n", 0, offset) + 1


def _refused(path: Path, line: int | None, found: str, remedy: str) -> FaultyFile:
    return FaultyFile([Fault(source=path.name, line=line, column=None, found=found, remedy=remedy)])
