"""The fit check as a check among others: whether the draws are draws of the posterior at all."""

from collections.abc import Sequence
from typing import Final

from model.checks.check import Check, Status
from model.posterior.posterior import FitCheck

NAME: Final = "fit"
TITLE: Final = "did the sampler do its work"


def fit_check(found: FitCheck, newer_reasons: Sequence[str] = ()) -> Check:
    """Judge a fit by its stored fit check.

    Parameters
    ----------
    newer_reasons : sequence of str
        Why a newer fit, of all pulls, failed; empty where none did.
    """
    if newer_reasons:
        return Check(
            name=NAME,
            title=TITLE,
            status=Status.FAILED,
            reason=f"The newest fit failed: {'; '.join(newer_reasons)}. What follows is of the fit "
            "before it.",
            remedy="Look among the newest pulls for a wrong load, anchor or seabed, and run "
            "`kedgewise fit` again.",
        )
    if found.status == "failed":
        return Check(
            name=NAME,
            title=TITLE,
            status=Status.FAILED,
            reason=f"These draws may not be used: {'; '.join(found.reasons)}.",
            remedy="Run `kedgewise fit` again.",
        )
    fewest = min(found.ess_bulk_min, found.ess_tail_min)
    return Check(
        name=NAME,
        title=TITLE,
        status=Status.PASSED,
        reason=f"The chains agree (R-hat at most {found.rhat_max:.3f}), none diverged, and every "
        f"figure rests on at least {fewest:.0f} effective draws.",
    )
