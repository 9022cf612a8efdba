"""How set-ups set and how each pull did, from the newest posterior that passed."""

from collections.abc import Sequence
from dataclasses import dataclass

from model.base.errors import UnknownName
from model.ingest.known_names import find_name
from model.posterior.posterior import Posterior
from model.questions.bite_modes import BiteModes, bite_modes
from model.questions.setting_modes import Place, SetUpModes, set_up_modes, untried
from model.records.answer import NotYet, PosteriorSummary
from model.records.campaign import Campaign
from model.service.answers import behind, without_posterior
from model.store.store import Store

ASKED = "how it sets"
"""What :class:`NotYet` calls this question, which has no name of its own."""


@dataclass(frozen=True, kw_only=True)
class Modes:
    """Set-ups and single bites, in the campaign's and the pulls' order.

    Parameters
    ----------
    campaign : Campaign
        As it was at the fit.
    set_ups : tuple of SetUpModes
        Those never pulled are marked, see :attr:`SetUpModes.is_predicted`.
    """

    campaign: Campaign
    posterior: PosteriorSummary
    set_ups: tuple[SetUpModes, ...]
    bites: tuple[BiteModes, ...]


def modes(
    store: Store,
    *,
    anchor: str | None = None,
    seabed: str | None = None,
    has_untried: bool = False,
) -> Modes | NotYet:
    """How every set-up sets that was pulled, and how each of its bites did.

    Parameters
    ----------
    anchor, seabed : str or None
        Only set-ups with it, as typed.
    has_untried : bool
        Also set-ups never pulled, combinations of two changes among them; see
        :func:`model.questions.setting_modes.untried`.

    Returns
    -------
    Modes or NotYet
        ``NotYet`` where nothing was fitted, or the fit is older than what is named.

    Raises
    ------
    UnknownName
        If the campaign has no such anchor or seabed.
    FitFailed
        If nothing passed and the newest fit failed its check.
    StoreError, PosteriorInvalid
        If the stored draws are damaged.
    """
    campaign = store.campaign()
    anchor = _known("anchor", anchor, [one.code for one in campaign.anchors])
    seabed = _known("seabed", seabed, [one.name for one in campaign.seabeds])
    posterior = store.newest_posterior()
    if posterior is None:
        return without_posterior(store, ASKED)
    unknown = _unknown_to(posterior.campaign, anchor, seabed)
    if unknown:
        reason = f"the newest fit does not know {unknown}"
        return NotYet(question=ASKED, reason=reason, hint="Run `kedgewise fit`.")
    return _told(posterior, store, anchor, seabed, has_untried=has_untried)


def _told(
    posterior: Posterior, store: Store, anchor: str | None, seabed: str | None, *, has_untried: bool
) -> Modes:
    def is_asked(place: Place) -> bool:
        return anchor in {None, place.anchor} and seabed in {None, place.seabed}

    campaign, pulls = posterior.campaign, behind(store, posterior)
    more = untried(campaign, pulls) if has_untried else ()
    set_ups = set_up_modes(posterior, pulls, more)
    bites = bite_modes(posterior, pulls)
    return Modes(
        campaign=campaign,
        posterior=posterior.summary,
        set_ups=tuple(one for one in set_ups if is_asked(one.place)),
        bites=tuple(one for one in bites if is_asked(one.place)),
    )


def _known(kind: str, written: str | None, known: Sequence[str]) -> str | None:
    if written is None:
        return None
    name = find_name(written.strip(), known)
    if name is None:
        raise UnknownName(
            f"the campaign has no {kind} {written!r}", hint=f"Known: {', '.join(known)}."
        )
    return name


def _unknown_to(campaign: Campaign, anchor: str | None, seabed: str | None) -> str:
    """What the campaign of the fit does not have yet, in words; empty for nothing."""
    if anchor is not None and anchor not in [one.code for one in campaign.anchors]:
        return f"the anchor {anchor}"
    if seabed is not None and seabed not in [one.name for one in campaign.seabeds]:
        return f"the seabed {seabed}"
    return ""
