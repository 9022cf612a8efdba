"""What a log leaves to be taken for granted, said aloud once each."""

from collections.abc import Iterator, Sequence

from model.ingest.columns import Place, near_misses
from model.ingest.rows import LogRow
from model.records.campaign import Campaign
from model.records.pull import Ending, Pull, Reading

SHOWN_LINES = 5


def notes_on(
    rows: Sequence[LogRow], pulls: Sequence[Pull], places: Sequence[Place], campaign: Campaign
) -> list[str]:
    """Notes on a log without faults.

    Parameters
    ----------
    rows : sequence of LogRow
        Every row, with the campaign's names.
    pulls : sequence of Pull
        What they came to.
    places : sequence of Place
        What each column is.
    campaign : Campaign
        Where the defaults stand.
    """
    return [
        *_outing_notes(places, campaign),
        *_baseline_notes(rows, campaign),
        *_scope_notes(pulls, campaign),
        *_unit_notes(places),
        *_bite_notes(rows, pulls, campaign),
        *_date_notes(rows, campaign),
        *near_misses(places),
    ]


def _outing_notes(places: Sequence[Place], campaign: Campaign) -> Iterator[str]:
    if not any(place.column and place.column.name == "outing" for place in places):
        yield f"No column outing: every pull is taken to be of {campaign.outings[0].name}."


def _baseline_notes(rows: Sequence[LogRow], campaign: Campaign) -> Iterator[str]:
    for treatment in campaign.treatments:
        empty = [row for row in rows if treatment.name not in row.levels]
        if empty:
            yield (
                f"{treatment.name}: empty in {_count(len(empty), 'row')}, "
                f"taken as the baseline {treatment.baseline!r}."
            )


def _scope_notes(pulls: Sequence[Pull], campaign: Campaign) -> Iterator[str]:
    without = sum(pull.scope is None for pull in pulls)
    if without:
        usual = f"{campaign.usual_scope:g}"
        yield f"{_count(without, 'pull')} without a scope: the usual {usual} is taken."


def _unit_notes(places: Sequence[Place]) -> Iterator[str]:
    for place in places:
        if place.column and place.column.units == "load" and place.unit == "kg":
            yield f"{place.heading}: kilograms are read as kilograms-force."


def _bite_notes(rows: Sequence[LogRow], pulls: Sequence[Pull], campaign: Campaign) -> Iterator[str]:
    later = sum(row.start is None and (row.bite or 1) > 1 for row in rows)
    if later:
        yield f"{_count(later, 'later bite')} without a start: taken as after slip."
    held = [row for row in rows if row.ending is Ending.HELD and row.held_s is None]
    unsaid = [row for row in held if campaign.ladder_of(row.outing)]
    if unsaid:
        count = _count(len(unsaid), "held bite")
        yield f"{count} without held_s: the ladder's final hold is taken."
    yield from _hold_notes(rows, campaign)
    yield from _peak_notes(rows, campaign)
    gauges = {gauge.name for gauge in campaign.gauges if gauge.resolution_kn is not None}
    peaks = sum(
        bite.reading is Reading.PEAK and bite.ending.is_release
        for pull in pulls
        if campaign.outing(pull.outing).gauge not in gauges
        for bite in pull.bites
    )
    given = sum(row.resolution is not None for row in rows)
    if peaks > given:
        yield "Peaks without a resolution are taken to half a unit of their last digit."


def _hold_notes(rows: Sequence[LogRow], campaign: Campaign) -> Iterator[str]:
    """Holds shorter than the protocol's: true as far as they go, but worth a look."""
    short = []
    for row in rows:
        ladder = campaign.ladder_of(row.outing)
        if ladder and row.ending is Ending.HELD and row.held_s is not None:
            short += [row.line] if row.held_s < ladder.final_hold_s else []
    if short:
        yield f"Held for less than the ladder's final hold, used as written: {_lines(short)}."


def _peak_notes(rows: Sequence[LogRow], campaign: Campaign) -> Iterator[str]:
    """Peaks that the boat pulls only with a swing of its weight: possible, but worth a look."""
    high = []
    for row in rows:
        top_kn = campaign.boat(campaign.outing(row.outing).boat).top_thrust_kn
        is_peak = row.reading is Reading.PEAK or campaign.ladder_of(row.outing) is None
        if is_peak and row.load is not None and row.load.value > top_kn:
            high += [row.line] if row.ending is not Ending.VOID else []
    if high:
        yield f"Peaks above the boat's top thrust, used as written: {_lines(high)}."


def _date_notes(rows: Sequence[LogRow], campaign: Campaign) -> Iterator[str]:
    other = [
        row.line
        for row in rows
        if row.date is not None and campaign.outing(row.outing).date not in {None, row.date}
    ]
    if other:
        yield f"Another date than the outing's in the campaign: {_lines(other)}."


def _count(number: int, thing: str) -> str:
    return f"{number} {thing}" + ("" if number == 1 else "s")


def _lines(lines: Sequence[int]) -> str:
    more = "" if len(lines) <= SHOWN_LINES else f" and {len(lines) - SHOWN_LINES} more"
    return f"line {', '.join(str(line) for line in lines[:SHOWN_LINES])}{more}"
