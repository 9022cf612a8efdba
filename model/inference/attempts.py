"""What is tried, and what next where draws do not pass their check."""

from dataclasses import dataclass, replace

from model.inference.fit_check import is_only_divergent
from model.inference.settings import Settings
from model.posterior.posterior import FitCheck


@dataclass(frozen=True, kw_only=True)
class Attempt:
    """How draws are made that are judged together.

    Parameters
    ----------
    length : int
        Multiple of the settings' warm-up and draws, thinned again.
    target_accept : float
        Acceptance target: the higher, the smaller the steps.
    runs : int
        Runs of the settings' chains that are put together; those of an attempt
        before with the same length and target are kept.
    """

    length: int
    target_accept: float
    runs: int

    def goes_on_from(self, other: "Attempt | None") -> bool:
        """Whether the runs of another attempt are part of this one."""
        if other is None:
            return False
        return (self.length, self.target_accept) == (other.length, other.target_accept)


def first_attempt(settings: Settings) -> Attempt:
    """One run at the usual target."""
    return Attempt(length=1, target_accept=settings.target_accept, runs=1)


def next_attempt(settings: Settings, last: Attempt, found: FitCheck) -> Attempt | None:
    """What to try after an attempt failed its check; None where nothing more would help.

    Divergences ask for smaller steps. Everything else asks for more draws:
    twice as many chains at the same steps, cheaper than smaller steps.
    """
    if found.divergences == 0:
        if last.runs >= settings.most_runs:
            return None
        return replace(last, runs=min(2 * last.runs, settings.most_runs))
    lengths = _lengths(settings)
    smaller = [target for target in lengths if target > last.target_accept]
    if not smaller or (last.length > 1 and not is_only_divergent(found)):
        return None
    return Attempt(length=lengths[smaller[0]], target_accept=smaller[0], runs=1)


def max_depth(settings: Settings, attempt: Attempt) -> int:
    """Most doublings of a trajectory: smaller steps need more of them to go as far."""
    return settings.max_depth + list(_lengths(settings)).index(attempt.target_accept)


def _lengths(settings: Settings) -> dict[float, int]:
    """Length of an attempt by its acceptance target, in the order in which they are tried."""
    return {
        settings.target_accept: 1,
        settings.smaller_target_accept: 1,
        settings.retry_target_accept: settings.retry_factor,
        settings.last_target_accept: settings.retry_factor,
    }
