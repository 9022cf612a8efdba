"""Tries at work that may be stopped before it ends, counted in the store: no restart forgets them.

A process that is killed tells nobody. Whoever comes next sees in the store that a try began
and did not end; after so many of them the work counts as failed, and is not begun again.
"""

from collections.abc import Callable
from contextlib import suppress
from typing import Final

from model.base.errors import FitFailed, FitStopped, KedgewiseError, StoreError
from model.store.entries import Attempt
from model.store.store import Store

KILLED: Final = "it was killed or the machine went down, as where memory runs out"
"""What is known of a try that left no reason."""


def tried[Done](
    store: Store, fingerprint: str, act: Callable[[], Done], *, most_tries: int | None
) -> Done:
    """One try, and how it ended: whoever comes next sees how many there were, and why.

    Parameters
    ----------
    fingerprint : str
        What tries are counted under.
    act : callable
        The work; it notes itself that it passed or failed.
    most_tries : int or None
        How often it may have been stopped before it ended, at least 1. None for whoever asks
        by hand.

    Raises
    ------
    FitFailed
        If the work failed, or was stopped too often.
    FitStopped
        If memory ran out.
    """
    before = store.attempt(fingerprint)
    _require_tries_left(store, before, most_tries)
    store.begin_attempt(fingerprint)
    try:
        return act()
    except FitFailed:
        raise
    except (KeyboardInterrupt, SystemExit):
        with suppress(StoreError):  # then it counts as a try
            store.withdraw_attempt(fingerprint, before)
        raise
    except MemoryError as error:
        _note_stop(store, fingerprint, "memory ran out")
        hint = "Close other programs and run `kedgewise fit` again; the pulls are all there."
        raise FitStopped("memory ran out during the fit", hint=hint) from error
    except Exception as error:
        found = error.message if isinstance(error, KedgewiseError) else repr(error)
        _note_stop(store, fingerprint, found)
        raise


def _require_tries_left(store: Store, before: Attempt | None, most_tries: int | None) -> None:
    """Count work as failed that was stopped too often: the next try would end like them."""
    if most_tries is None or before is None or before.state != "started":
        return
    if before.tries < most_tries:
        return
    last = "; ".join(before.reasons) or KILLED
    reason = f"it was stopped {before.tries} times before it ended; the last time {last}"
    store.end_attempt(before.fingerprint, "failed", [reason])
    raise FitFailed(
        f"the fit failed: {reason}",
        hint="Make room, of memory and on the disk, and run `kedgewise fit`. "
        "Changed or new pulls are fitted by themselves.",
    )


def _note_stop(store: Store, fingerprint: str, reason: str) -> None:
    with suppress(StoreError):  # what stopped it may keep this from being stored, too
        store.stop_attempt(fingerprint, reason)
