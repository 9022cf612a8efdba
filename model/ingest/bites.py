"""One row to one bite, with everything the row says against itself."""

from collections.abc import Iterator

from pydantic import ValidationError

from model.base.errors import Fault
from model.ingest.ladder_steps import show_load
from model.ingest.loads import LoadFault, Loads, Protocol, read_loads
from model.ingest.rows import LogRow
from model.records.campaign import Ladder
from model.records.pull import Bite, Ending, Reading, Start, start_thrust_kn

LOAD_COLUMNS = ("load", "step", "last_held", "held_s", "start_load", "resolution")


def read_bite(
    row: LogRow, protocol: Protocol, *, number: int, start: Start
) -> tuple[Bite | None, list[Fault]]:
    """The bite a row describes, or everything that keeps it from being one.

    Parameters
    ----------
    row : LogRow
        Cells that could be read.
    protocol : Protocol
        Ladder and gauge of its outing.
    number : int
        Place of the bite in its pull, from 1.
    start : Start
        How it began.
    """
    if row.ending is None:
        # A cell that could not be read has its fault already.
        return None, [] if "ending" in row.faulty else [_no_ending(row)]
    faults = list(_plain_faults(row, row.ending, protocol, start))
    loads = Loads()
    if row.ending is not Ending.NEVER_SET and not row.faulty.intersection(LOAD_COLUMNS):
        try:
            loads = read_loads(row, row.ending, protocol)
        except LoadFault as fault:
            faults.append(row.fault(fault.column, fault.found, fault.remedy))
    if faults or row.faulty:
        return None, faults
    return _bite(row, row.ending, protocol, loads, number=number, start=start)


def _no_ending(row: LogRow) -> Fault:
    words = ", ".join(ending.value.replace("_", " ") for ending in Ending)
    return row.fault("ending", "no ending", f"Write one of: {words}")


def _plain_faults(row: LogRow, ending: Ending, protocol: Protocol, start: Start) -> Iterator[Fault]:
    if ending is Ending.NEVER_SET:
        for column in LOAD_COLUMNS:
            if row.says(column):
                remedy = "Leave it empty, or write how the bite ended if it bit after all"
                yield row.fault(column, "something beside never set, which takes no load", remedy)
        yield from _seen_unset(row)
        if _is_later(row) and start is not Start.AFTER_TURN:
            remedy = "Give it a pull of its own, or write released for the bite before"
            yield row.fault("ending", "never set in a pull that has set", remedy)
    if start is Start.FRESH and row.start_load is not None and row.start_load.value > 0:
        remedy = "Leave it empty: it is for a bite after a slip or a turn"
        yield row.fault("start_load", "a starting thrust on a fresh bite", remedy)
    if ending is Ending.HELD and protocol.ladder is not None and row.held_s is not None:
        yield from _short_hold(row, protocol.ladder, row.held_s)


def _seen_unset(row: LogRow) -> Iterator[Fault]:
    """What is only seen of an anchor that has set; less than can be seen may have been buried."""
    remedy = "Leave it empty, or write how the bite ended if it set after all"
    if row.mode is not None:
        yield row.fault("mode", "a mode beside never set, which has none", remedy)
    if row.buried is not None and row.buried.kind != "less_than":
        yield row.fault("buried", "buried rode beside never set, which has none", remedy)


def _is_later(row: LogRow) -> bool:
    """Whether the row says that it is a later bite of its pull."""
    return row.bite is not None and row.bite > 1


def _short_hold(row: LogRow, ladder: Ladder, held_s: float) -> Iterator[Fault]:
    dwell_s = ladder.steps[-1].dwell_s
    if held_s < dwell_s:
        yield row.fault(
            "held_s",
            f"held for {held_s:g} s, less than one dwell of {dwell_s:g} s",
            f"Write stopped and a reason, or the right seconds (the final hold is "
            f"{ladder.final_hold_s:g} s)",
        )


def _bite(
    row: LogRow, ending: Ending, protocol: Protocol, loads: Loads, *, number: int, start: Start
) -> tuple[Bite | None, list[Fault]]:
    held_s = row.held_s
    if ending is Ending.HELD and held_s is None and protocol.ladder is not None:
        held_s = protocol.ladder.final_hold_s
    try:
        bite = Bite(
            number=number,
            start=start,
            ending=ending,
            reading=_reading(row, ending, protocol),
            load_kn=loads.load_kn,
            resolution_kn=loads.resolution_kn,
            last_held_kn=loads.last_held_kn,
            held_s=held_s,
            start_kn=None if row.start_load is None else row.start_load.value,
            mode=row.mode,
            has_camera=row.camera,
            buried=row.buried,
            signs=row.signs,
        )
    except ValidationError as error:
        return None, record_faults(row, error)
    return bite, []


def _reading(row: LogRow, ending: Ending, protocol: Protocol) -> Reading:
    if ending is Ending.NEVER_SET:
        return row.reading or Reading.STEP
    return protocol.reading_of(row)


def record_faults(row: LogRow, error: ValidationError) -> list[Fault]:
    """What a record refuses, as faults of the row it came from."""
    return [
        row.fault(
            str(problem["loc"][-1]) if problem["loc"] else "pull",
            problem["msg"].removeprefix("Value error, "),
            "Put the row right",
        )
        for problem in error.errors(include_url=False)
    ]


def start_thrust_faults(
    row: LogRow, before: Bite, after: Bite, protocol: Protocol
) -> Iterator[Fault]:
    """A later bite that let go at or below a thrust it must have stood to be seen at all.

    Parameters
    ----------
    row : LogRow
        Row of the later bite.
    before, after : Bite
        The bite that let go, or came to its end, and the one after the slip or turn.
    protocol : Protocol
        Of the outing.
    """
    unit = row.load.unit if row.load else protocol.unit
    high = _start_too_high(before, after, protocol, unit)
    if high:
        is_slip = after.start is Start.AFTER_SLIP
        kept = "that the crew eased to" if is_slip else "that was on after the turn"
        remedy = f"Write the thrust {kept}, or leave it empty"
        yield row.fault("start_load", f"a start at {high}", remedy)
        return
    thrust_kn = start_thrust_kn(before, after)
    was_on = f"{show_load(thrust_kn, unit)} was on when it began"
    if after.last_held_kn is not None and after.last_held_kn < thrust_kn:
        held = show_load(after.last_held_kn, unit)
        remedy = "Write the highest step that this bite held, or leave it empty"
        yield row.fault("last_held", f"last held at {held}, and {was_on}", remedy)
    elif not _stands(after, thrust_kn, protocol.ladder):
        ended = show_load(after.load_kn or 0.0, unit)
        yield row.fault(
            "load" if row.load else "step",
            f"bite {after.number} ended at {ended}, and {was_on}",
            f"If the crew eased first, write what to in start_{unit}; if it let go after more "
            "than one dwell at the top, write held_s; if it never bit again, end the pull with "
            "the bite before",
        )


def _start_too_high(before: Bite, after: Bite, protocol: Protocol, unit: str) -> str:
    """A starting thrust that was not on, and what it is above; empty if it can have been."""
    if after.start_kn is None:
        return ""
    shown = show_load(after.start_kn, unit)
    if after.start is Start.AFTER_SLIP:
        most_kn = before.upper_kn or before.load_kn or 0.0
        let_go = show_load(before.load_kn or 0.0, unit)
        above = f"{shown}, above the {let_go} at which the bite before let go"
    else:
        top_kn = 0.0 if protocol.ladder is None else protocol.ladder.top_kn
        most_kn = max(protocol.top_thrust_kn, top_kn)
        above = f"{shown}, above the {show_load(most_kn, unit)} that the boat can pull"
    return above if after.start_kn > most_kn else ""


def _stands(after: Bite, thrust_kn: float, ladder: Ladder | None) -> bool:
    """Whether the bite can have stood that thrust for one dwell."""
    if after.load_kn is None or after.ending is Ending.VOID:
        return True
    if not after.ending.is_release:
        return after.reading is Reading.PEAK or after.load_kn >= thrust_kn
    if after.reading is Reading.PEAK:
        return (after.upper_kn or 0.0) > thrust_kn
    return after.load_kn > thrust_kn or _is_long_top_hold(after, ladder)


def _is_long_top_hold(bite: Bite, ladder: Ladder | None) -> bool:
    if ladder is None or bite.load_kn != ladder.top_kn:
        return False
    return bite.held_s is not None and bite.held_s > ladder.steps[-1].dwell_s
