"""What is tried, and what next where draws do not pass their check."""

from dataclasses import dataclass

from model.inference.settings import Settings
from model.posterior.posterior import FitCheck


@dataclass(frozen=True, kw_only=True)
class Attempt:
    """How draws are made that are judged together.

    Parameters
    ----------
    length : int
        Multiple of the settings' draws, thinned again, with up to twice the
        warm-up.
    target_accept : float
        Acceptance target: the higher, the smaller the steps.
    number : int
        How many went before. The next one's chains are other ones: those that were refused
        would only come again, however much longer.
    """

    length: int
    target_accept: float
    number: int = 0


def first_attempt(settings: Settings) -> Attempt:
    """The shortest chains at the lowest target."""
    return Attempt(length=settings.lengths[0], target_accept=settings.targets[0])


def next_attempt(settings: Settings, last: Attempt, found: FitCheck) -> Attempt | None:
    """What to try after an attempt failed its check; None where nothing more would help.

    Divergences ask for smaller steps, everything else for longer chains. Not for more of
    them: R-hat holds each half of a chain against all the others, so that many short ones need
    more effective draws, and so do not pass, where a few long ones do. Long chains begin at
    smaller steps, for a single divergence would spoil all their work.
    """
    is_divergent = found.divergences > 0
    is_short = len(found.reasons) > int(is_divergent)
    lengths = [length for length in settings.lengths if length > last.length]
    if is_short and not lengths:
        return None
    length = lengths[0] if is_short else last.length
    targets = _targets(settings, length)
    smaller = [target for target in targets if target > last.target_accept]
    if (is_divergent and not smaller) or last.target_accept > targets[-1]:
        return None
    is_first_target = last.target_accept == settings.targets[0]
    has_smaller_steps = is_divergent or (is_first_target and bool(smaller))
    return Attempt(
        length=length,
        target_accept=smaller[0] if has_smaller_steps else last.target_accept,
        number=last.number + 1,
    )


def _targets(settings: Settings, length: int) -> tuple[float, ...]:
    """The targets for chains of a length: the longest at the smallest steps would take hours."""
    is_longest = length == settings.lengths[-1] > settings.lengths[0]
    has_smallest = len(settings.targets) > 1
    return settings.targets[:-1] if is_longest and has_smallest else settings.targets


def max_depth(settings: Settings, attempt: Attempt) -> int:
    """Most doublings of a trajectory: smaller steps need more of them to go as far."""
    return settings.max_depth + settings.targets.index(attempt.target_accept)


def tune(settings: Settings, attempt: Attempt) -> int:
    """Warm-up of an attempt: long chains need no warm-up as many times as long."""
    return settings.tune * min(attempt.length, 2)
