"""Where a key stands in a TOML file: the standard reader keeps no lines.

A scan for headers and keys at the beginning of lines; what stands inside an
array or an inline table has the line of the key that holds it.
"""

import re
from dataclasses import dataclass
from typing import Final

KeyPath = tuple[str | int, ...]
"""Names of tables and keys; numbers (from 0) for the places in an array of tables."""

_PART: Final = r"""(?:[A-Za-z0-9_-]+|"[^"\n]*"|'[^'\n]*')"""
_DOTTED: Final = rf"{_PART}(?:\s*\.\s*{_PART})*"
_HEADER: Final = re.compile(rf"\s*(\[\[?)\s*({_DOTTED})\s*\]\]?")
_KEY: Final = re.compile(rf"\s*({_DOTTED})\s*=")
_QUOTED: Final = re.compile(r""""[^"\n]*"|'[^'\n]*'""")
MOST_PARTS: Final = 50
"""Most parts of one dotted key: the file has three at most, and reading time grows as a square."""
_LONG_KEY: Final = re.compile(rf"(?<![\w-])(?:[\w-]++[ \t]*+\.[ \t]*+){{{MOST_PARTS}}}")
_QUOTES: Final = re.compile(r'"""|' + "'''")


@dataclass(frozen=True, kw_only=True)
class TomlLines:
    """Line of each key and table that was found."""

    lines: dict[KeyPath, int]

    def of(self, path: KeyPath) -> int | None:
        """Line of a key, or of the nearest thing that holds it."""
        for end in range(len(path), 0, -1):
            if path[:end] in self.lines:
                return self.lines[path[:end]]
        return None

    def at(self, line: int) -> KeyPath:
        """The key or table that stands on a line; empty where none was found."""
        return next((path for path, number in self.lines.items() if number == line), ())


def find_lines(text: str) -> TomlLines:
    """Lines of the keys and tables of a TOML text that can be read."""
    lines: dict[KeyPath, int] = {}
    counts: dict[KeyPath, int] = {}
    table: KeyPath = ()
    is_in_string = False
    for number, line in enumerate(text.split("\n"), start=1):
        if not is_in_string:
            header, key = _HEADER.match(line), _KEY.match(line)
            if header:
                table = _table(header.group(2), header.group(1) == "[[", counts)
                lines.setdefault(table, number)
            elif key:
                path = (*table, *_parts(key.group(1)))
                lines.setdefault(path, number)
        if len(_QUOTES.findall(line)) % 2:
            is_in_string = not is_in_string
    return TomlLines(lines=lines)


def find_long_key(text: str) -> int | None:
    """Line of the first key of very many parts; None if there is none."""
    bare = _QUOTED.sub("quoted", text)
    found = _LONG_KEY.search(bare)
    return None if found is None else bare.count("\n", 0, found.start()) + 1


def show_path(path: KeyPath) -> str:
    """A key's path as text; places count from 1, as ``boats[2].name``."""
    text = ""
    for part in path:
        text += f"[{part + 1}]" if isinstance(part, int) else f".{part}"
    return text.removeprefix(".")


def _parts(dotted: str) -> list[str]:
    return [part.strip("\"'") for part in re.findall(_PART, dotted)]


def _table(dotted: str, is_array: bool, counts: dict[KeyPath, int]) -> KeyPath:
    """Path of a header, with its place in the arrays it lies in; a new one of an array counts."""
    parts = tuple(_parts(dotted))
    if is_array:
        whole = _inside(parts[:-1], counts) + parts[-1:]
        counts[whole] = counts.get(whole, 0) + 1
    return _inside(parts, counts)


def _inside(parts: tuple[str, ...], counts: dict[KeyPath, int]) -> KeyPath:
    path: KeyPath = ()
    for part in parts:
        path = (*path, part)
        if path in counts:
            path = (*path, counts[path] - 1)
    return path
