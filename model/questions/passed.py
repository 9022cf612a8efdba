"""Whether draws may be used: nothing is told from those that failed their fit check."""

from model.base.errors import FitFailed
from model.posterior.posterior import Posterior


def require_passed(posterior: Posterior) -> None:
    """Refuse draws that failed their fit check.

    Raises
    ------
    FitFailed
        With every reason, and what to do.
    """
    if posterior.fit_check.status != "passed":
        raise FitFailed(
            "these draws failed their fit check: " + "; ".join(posterior.fit_check.reasons),
            hint="Nothing is answered from them; run `kedgewise fit` again.",
        )
