"""Rows to pulls: the rows of one pull agree, and its bites follow from each other."""

from collections.abc import Iterator, Sequence
from itertools import pairwise

from pydantic import ValidationError

from model.base.errors import Fault
from model.ingest.bites import read_bite, record_faults, start_thrust_faults
from model.ingest.loads import Protocol
from model.ingest.pull_facts import disagreements, read_facts
from model.ingest.rows import LogRow
from model.records.campaign import Campaign
from model.records.pull import MOST_BITES, Bite, Ending, Pull, Start


def read_pulls(rows: Sequence[LogRow], campaign: Campaign) -> tuple[list[Pull], list[Fault]]:
    """Pulls in the order of their first rows, and everything wrong with them.

    Parameters
    ----------
    rows : sequence of LogRow
        With names as the campaign has them.
    campaign : Campaign
        What the rows refer to.
    """
    groups: dict[tuple[str, str], list[LogRow]] = {}
    for row in rows:
        if row.pull and row.outing and not row.faulty & {"pull", "outing"}:
            groups.setdefault((row.outing, row.pull), []).append(row)
    pulls: list[Pull] = []
    faults: list[Fault] = []
    for group in groups.values():
        pull, found = _read_pull(group, campaign)
        faults += found
        pulls += [] if pull is None else [pull]
    return pulls, faults


def protocol_of(campaign: Campaign, outing: str) -> Protocol:
    """Ladder, gauge and boat of an outing."""
    gauges = {gauge.name: gauge for gauge in campaign.gauges}
    return Protocol(
        ladder=campaign.ladder_of(outing),
        gauge=gauges.get(campaign.outing(outing).gauge or ""),
        unit=campaign.load_unit,
        top_thrust_kn=campaign.boat(campaign.outing(outing).boat).top_thrust_kn,
    )


def _read_pull(rows: Sequence[LogRow], campaign: Campaign) -> tuple[Pull | None, list[Fault]]:
    repeated = list(_repeated_bites(rows))
    if len(rows) > MOST_BITES:
        # One row copied over and over: to compare each with all would take for ever, and each
        # that is no repetition has a bite number that could not be read.
        return None, repeated
    protocol = protocol_of(campaign, rows[0].outing)
    facts, faults = read_facts(rows, campaign)
    disordered = repeated or list(_order_faults(rows))
    faults += disordered
    faults += [] if repeated else disagreements(rows, campaign)
    bites: list[Bite | None] = []
    for place, row in enumerate(rows):
        start = row.start or (Start.FRESH if place == 0 else Start.AFTER_SLIP)
        bite, found = read_bite(row, protocol, number=place + 1, start=start)
        bites.append(bite)
        faults += found
    # Rows that are no pull together, or in no order, cannot follow from each other.
    faults += [] if disordered else _sequence_faults(rows, bites, protocol)
    if faults or any(bite is None or row.faulty for bite, row in zip(bites, rows, strict=True)):
        return None, faults
    try:
        pull = Pull(bites=tuple(bite for bite in bites if bite is not None), **facts)
    except ValidationError as error:
        return None, record_faults(rows[0], error)
    return pull, []


def _repeated_bites(rows: Sequence[LogRow]) -> Iterator[Fault]:
    first_line: dict[int, int] = {}
    for row in rows:
        number = row.bite or 1
        if number in first_line and "bite" not in row.faulty:
            line = first_line[number]
            found = (
                f"bite {number} of pull {row.pull} of {row.outing} stands in line {line} already"
            )
            remedy = "Number the bites of a pull 1, 2, 3, or give this pull a name of its own"
            yield row.fault("pull", found, remedy)
        first_line.setdefault(number, row.line)


def _order_faults(rows: Sequence[LogRow]) -> Iterator[Fault]:
    """The first bite that does not stand where its number says."""
    for expected, row in enumerate(rows, start=1):
        number = row.bite or 1
        if number != expected and "bite" not in row.faulty:
            found = f"bite {number} of pull {row.pull} where bite {expected} comes"
            yield row.fault("bite", found, "Write the bites of a pull in order: 1, 2, 3")
            return


def _sequence_faults(
    rows: Sequence[LogRow], bites: Sequence[Bite | None], protocol: Protocol
) -> Iterator[Fault]:
    first = rows[0]
    if first.start not in {None, Start.FRESH}:
        remedy = "Write fresh; if it belongs to a pull above, give it that pull and the next bite"
        yield first.fault("start", "a first bite that is not fresh", remedy)
    for (row_before, before), (row, after) in pairwise(zip(rows, bites, strict=True)):
        ending = row_before.ending
        if row.start is Start.FRESH:
            remedy = "Write after slip or after turn, or give it a pull of its own"
            yield row.fault("start", "a later bite that is fresh", remedy)
        elif ending is Ending.VOID:
            remedy = "End the pull with the void bite"
            yield row.fault("bite", f"a bite after the void one in line {row_before.line}", remedy)
        elif ending is Ending.NEVER_SET:
            remedy = "Give it a pull of its own"
            yield row.fault(
                "bite", f"a bite after one that never set in line {row_before.line}", remedy
            )
        elif row.start is not Start.AFTER_TURN and ending not in {Ending.RELEASED, None}:
            words = ending.value.replace("_", " ")
            found = f"a re-set, but the bite in line {row_before.line} did not end released"
            remedy = f"It ended {words}: write released there, or start this bite after turn"
            yield row.fault("start", found, remedy)
        elif before is not None and after is not None:
            yield from start_thrust_faults(row, before, after, protocol)
