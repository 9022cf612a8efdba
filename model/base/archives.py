"""What reading a zip archive ends in where it is damaged, encrypted or of an unknown kind."""

import lzma
import struct
import zipfile
import zlib
from typing import Final

BROKEN_ARCHIVE: Final = (
    *(zipfile.BadZipFile, zlib.error, lzma.LZMAError, struct.error),
    *(EOFError, ValueError, NotImplementedError, RuntimeError),
)
"""Errors of the reader; those of the disk are OSErrors beside them."""
