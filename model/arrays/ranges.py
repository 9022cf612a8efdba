"""The range of load that holds a bite's capacity, from how the bite ended.

A bite's capacity is the load at which it would let go within one dwell. A
hold of t seconds counts as a load higher by ``(t / dwell) ** hold_exponent``;
the range keeps ``log(t / dwell)`` apart because the exponent is learnt.
"""

from dataclasses import dataclass
from math import inf, log
from typing import Final

from model.records.campaign import Ladder
from model.records.pull import Bite, Ending, Reading

BEYOND_PEAK: Final = 1.25
"""How far above a peak a spoilt bite could have been read as well, as a ratio; a judgement."""


@dataclass(frozen=True, kw_only=True)
class CapacityRange:
    """Ends of a range, kN, with the log hold ratio of each end.

    Parameters
    ----------
    lower_kn, upper_kn : float
        0 and infinity where the range is open.
    lower_log_hold, upper_log_hold : float
        ``log(t / dwell)`` of the end, at least 0.
    spoilt_share : float
        Probability of this range under a spoilt bite, which lets go in any
        cell above the thrust it started under alike; 0 for a full hold.
    """

    lower_kn: float
    upper_kn: float
    lower_log_hold: float = 0.0
    upper_log_hold: float = 0.0
    spoilt_share: float


def capacity_range(
    bite: Bite, ladder: Ladder | None, start_kn: float, top_thrust_kn: float
) -> CapacityRange:
    """Range of one bite's capacity.

    Parameters
    ----------
    bite : Bite
        Neither never set nor void.
    ladder : Ladder or None
        None for an old sheet without one.
    start_kn : float
        Thrust that was on when the bite began, kN; 0 for a fresh one.
    top_thrust_kn : float
        The most the boat can pull, kN: end of the flat for readings off a ladder.
    """
    if bite.ending is Ending.HELD:
        return _held(bite, ladder, start_kn)
    if bite.ending is Ending.STOPPED:
        return _stopped(bite, ladder, start_kn)
    if bite.reading is Reading.PEAK or ladder is None:
        return _peak(bite, start_kn, top_thrust_kn)
    return _released_at_step(bite, ladder, start_kn)


def next_bite_range(thrust_kn: float) -> CapacityRange:
    """Range that a next bite must lie in to be seen at all after a release."""
    return CapacityRange(lower_kn=thrust_kn, upper_kn=inf, spoilt_share=1.0)


def _load(bite: Bite) -> float:
    return bite.load_kn or bite.last_held_kn or 0.0


def _log_hold(bite: Bite, ladder: Ladder | None) -> float:
    if ladder is None:
        return 0.0
    held_s = ladder.final_hold_s if bite.held_s is None else bite.held_s
    return max(0.0, log(max(held_s, 1e-9) / ladder.steps[-1].dwell_s))


def _cells_above(ladder: Ladder, load_kn: float) -> int:
    """Cells a spoilt bite may let go in: each step above, and a hold beyond the dwell."""
    has_final_hold = ladder.final_hold_s > ladder.steps[-1].dwell_s
    return sum(step > load_kn for step in ladder.loads_kn) + has_final_hold


def _held(bite: Bite, ladder: Ladder | None, start_kn: float) -> CapacityRange:
    return CapacityRange(
        lower_kn=max(_load(bite), start_kn),
        upper_kn=inf,
        lower_log_hold=_log_hold(bite, ladder),
        spoilt_share=0.0,
    )


def _stopped(bite: Bite, ladder: Ladder | None, start_kn: float) -> CapacityRange:
    lower_kn = max(_load(bite), start_kn)
    share = 1.0
    if ladder is not None:
        share = _cells_above(ladder, lower_kn) / max(_cells_above(ladder, start_kn), 1)
    return CapacityRange(lower_kn=lower_kn, upper_kn=inf, spoilt_share=share)


def _peak(bite: Bite, start_kn: float, top_thrust_kn: float) -> CapacityRange:
    peak_kn, width_kn = _load(bite), bite.resolution_kn or 0.01 * _load(bite)
    lower_kn = max(peak_kn - width_kn / 2, 0.0)
    upper_kn = peak_kn + width_kn / 2
    if start_kn < upper_kn:
        lower_kn = max(lower_kn, start_kn)
    # A peak above the boat's stated most shows that more can come: the flat ends beyond it, or a
    # bite that started up there would be taken for spoilt whatever it read.
    span_kn = max(top_thrust_kn, BEYOND_PEAK * upper_kn) - start_kn
    return CapacityRange(
        lower_kn=lower_kn, upper_kn=upper_kn, spoilt_share=(upper_kn - lower_kn) / span_kn
    )


def _released_at_step(bite: Bite, ladder: Ladder, start_kn: float) -> CapacityRange:
    load_kn, cells = _load(bite), _cells_above(ladder, start_kn)
    is_in_final_hold = load_kn >= ladder.top_kn and (bite.held_s or 0.0) > ladder.steps[-1].dwell_s
    if is_in_final_hold:
        return CapacityRange(
            lower_kn=load_kn,
            upper_kn=load_kn,
            upper_log_hold=_log_hold(bite, ladder),
            spoilt_share=1 / max(cells, 1),
        )
    below = [step for step in ladder.loads_kn if step < load_kn]
    last_held_kn = bite.last_held_kn if bite.last_held_kn is not None else max(below, default=0.0)
    lower_kn = max(last_held_kn, start_kn)
    inside = sum(lower_kn < step <= load_kn for step in ladder.loads_kn)
    return CapacityRange(
        lower_kn=lower_kn, upper_kn=load_kn, spoilt_share=max(inside, 1) / max(cells, 1)
    )
