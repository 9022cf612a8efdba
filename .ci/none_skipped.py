"""Fails unless every test of a pytest run (its --junitxml file) ran: none skipped, and some there.

A test expected to fail counts as skipped: it too is a check that did not happen. Needs nothing but
Python 3.11.
"""

import sys
from pathlib import Path
from xml.etree import ElementTree as ET


def fault(report: str) -> str | None:
    """What is wrong with a run, None if nothing is."""
    suites = list(ET.fromstring(report).iter("testsuite"))  # noqa: S314 - pytest wrote it
    ran, skipped = (
        sum(int(suite.get(count, "0")) for suite in suites) for count in ("tests", "skipped")
    )
    if ran and not skipped:
        return None
    return f"{ran} tests, {skipped} of them skipped: a skip is a check that did not happen"


if __name__ == "__main__":
    sys.exit(fault(Path(sys.argv[1]).read_text("utf-8")))
