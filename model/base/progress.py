"""How long work says how far it has come."""

from collections.abc import Callable

Progress = Callable[[float, str], None]
"""Told the share that is done, 0 to 1, and in words what is being done.

Where work must be done again the share goes back, and the words say why.
"""
