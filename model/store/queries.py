"""Queries on an open session, each used by several of the store's methods."""

from typing import Final

from sqlalchemy import Select, select
from sqlalchemy.orm import Session

from model.base.errors import StoreError
from model.records.campaign import Campaign
from model.records.pull import Pull
from model.store.entries import parse
from model.store.tables import CHANGED_BY_HAND, CampaignRow, PosteriorRow, PullRow

KEPT_POSTERIORS: Final = 2
"""Newest posteriors whose draws are kept; the others' answers stay, their draws go."""


def current_campaign(session: Session) -> Campaign:
    """The campaign as it was stored last."""
    newest = session.scalar(select(CampaignRow.record).order_by(CampaignRow.id.desc()).limit(1))
    if newest is None:
        raise StoreError("the store holds no campaign", hint=CHANGED_BY_HAND)
    return parse(Campaign, newest)


def current_pulls(session: Session) -> dict[str, Pull]:
    """Newest revision of every pull by identity, in the order they were first stored."""
    rows = session.scalars(select(PullRow.record).order_by(PullRow.id))
    pulls = (parse(Pull, record) for record in rows)
    return {pull.id: pull for pull in pulls}


def newest_posterior_row() -> Select[PosteriorRow]:
    """Chooses the row of the posterior that passed last."""
    return select(PosteriorRow).order_by(PosteriorRow.number.desc()).limit(1)


def forget_old_files(session: Session) -> set[str]:
    """Give up the draws of all but the newest and the published; names of files to keep."""
    rows = session.scalars(select(PosteriorRow).order_by(PosteriorRow.number.desc())).all()
    for row in rows[KEPT_POSTERIORS:]:
        if not row.is_published:
            row.file = None
    return {row.file for row in rows if row.file is not None}
