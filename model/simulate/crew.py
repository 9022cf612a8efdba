"""What the crew writes down of the bites it has lived through."""

from dataclasses import dataclass

import numpy as np

from model.records.pull import Bite, BuriedRode, Ending, ModeSeen, Reading, Start
from model.simulate.evidence import see_buried, see_mode, see_signs
from model.simulate.nature import FIRST_BITE
from model.simulate.plan import Plan, Protocol
from model.simulate.world import World


@dataclass(frozen=True, kw_only=True)
class LivedBite:
    """One bite as it ended, with what nobody sees for sure: its mode.

    Parameters
    ----------
    is_upright : bool
        Its mode; of a third one, which of the two it looks like.
    load_kn : float or None
        The load the crew reads: a step, or a rounded peak; None where it never set after a turn.
    start : Start
        Fresh, after a slip, or after a turn.
    resolution_kn : float or None
        Width of a peak reading; None for a step.
    """

    is_upright: bool
    ending: Ending
    load_kn: float | None
    start: Start = Start.FRESH
    resolution_kn: float | None = None
    held_s: float | None = None


def write_bites(
    world: World,
    plan: Plan,
    protocol: Protocol,
    lived: tuple[LivedBite, ...],
    rng: np.random.Generator,
) -> tuple[Bite, ...]:
    """The rows of one pull; buried rode is measured once, at its end."""
    if lived[-1].ending is Ending.NEVER_SET:  # after a turn: there is nothing to look at any more
        gone = Bite(number=len(lived), start=lived[-1].start, ending=Ending.NEVER_SET)
        return (*write_bites(world, plan, protocol, lived[:-1], rng), gone)
    has_camera = bool(rng.random() < protocol.camera_chance)
    return tuple(
        _row(
            number,
            bite,
            camera=_camera(world, protocol, rng, bite, has_camera=has_camera),
            buried=_buried(world, plan, protocol, rng, bite) if number == len(lived) else None,
            signs=_signs(world, protocol, rng, bite),
        )
        for number, bite in enumerate(lived, start=FIRST_BITE)
    )


def _camera(
    world: World,
    protocol: Protocol,
    rng: np.random.Generator,
    bite: LivedBite,
    *,
    has_camera: bool,
) -> tuple[bool | None, ModeSeen | None]:
    """Whether a camera was used and what it showed; both None where not written.

    The two go missing together: "camera used, nothing seen" is evidence in itself.
    """
    if rng.random() < protocol.missing_chance:
        return None, None
    return has_camera, see_mode(world, rng, is_upright=bite.is_upright) if has_camera else None


def _buried(
    world: World, plan: Plan, protocol: Protocol, rng: np.random.Generator, bite: LivedBite
) -> BuriedRode | None:
    tape = protocol.evidence.tape
    if tape is None or rng.random() < protocol.missing_chance:
        return None
    return see_buried(world, plan, tape, rng, is_upright=bite.is_upright)


def _signs(
    world: World, protocol: Protocol, rng: np.random.Generator, bite: LivedBite
) -> dict[str, bool]:
    if not protocol.evidence.has_signs:
        return {}
    missing = protocol.missing_chance
    return see_signs(world, rng, is_upright=bite.is_upright, missing_chance=missing)


def _row(
    number: int,
    lived: LivedBite,
    *,
    camera: tuple[bool | None, ModeSeen | None],
    buried: BuriedRode | None,
    signs: dict[str, bool],
) -> Bite:
    has_camera, mode = camera
    return Bite(
        number=number,
        start=lived.start,
        ending=lived.ending,
        reading=Reading.STEP if lived.resolution_kn is None else Reading.PEAK,
        load_kn=lived.load_kn,
        resolution_kn=lived.resolution_kn,
        held_s=lived.held_s,
        mode=mode,
        has_camera=has_camera,
        buried=buried,
        signs=signs,
    )
