"""One anchor alone, as an estimator to compare with: see :mod:`model.questions.alone`."""

from collections.abc import Sequence

from model.calibration.result import Estimate
from model.calibration.spreadsheet import estimate_of
from model.questions.alone import FirstBite, effect_alone


def censored_lognormal_estimate(
    a: Sequence[FirstBite], b: Sequence[FirstBite], *, log_band: tuple[float, float], truth: float
) -> Estimate | None:
    """Posterior of the log ratio of two arms of one anchor.

    Returns
    -------
    Estimate or None
        None with no pull on a side; always finite otherwise.
    """
    found = effect_alone(a, b)
    if found is None:
        return None
    return estimate_of(found.cdf, found.quantile, log_band=log_band, truth=truth)
