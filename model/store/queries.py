"""Queries on an open session, each used by several of the store's methods."""

from collections.abc import Callable
from typing import Final

from sqlalchemy import Select, func, select
from sqlalchemy.orm import InstrumentedAttribute, Session

from model.base.errors import StoreDamaged
from model.records.campaign import Campaign
from model.records.question import Question
from model.store.entries import parse
from model.store.revisions import Mark
from model.store.tables import CHANGED_BY_HAND, CampaignRow, PosteriorRow, PullRow

KEPT_POSTERIORS: Final = 2
"""Newest posteriors whose draws are kept; the others' answers stay, their draws go."""


def current_campaign(session: Session, *, last_row: int | None = None) -> Campaign:
    """The campaign as it was stored last, or last up to a row."""
    chosen = select(CampaignRow.record).order_by(CampaignRow.id.desc()).limit(1)
    newest = session.scalar(
        chosen if last_row is None else chosen.where(CampaignRow.id <= last_row)
    )
    if newest is None:
        raise StoreDamaged("the store holds no campaign", hint=CHANGED_BY_HAND)
    return parse(Campaign, newest)


def mark_now(session: Session) -> Mark:
    """The last rows that are there."""
    return Mark(
        campaign_row=session.scalar(select(func.max(CampaignRow.id))) or 0,
        pull_row=session.scalar(select(func.max(PullRow.id))) or 0,
    )


def mark_of(session: Session, posterior_id: str) -> Mark | None:
    """The last rows that were there when a posterior's facts were read; None for no posterior."""
    row = session.scalar(select(PosteriorRow).where(PosteriorRow.id == posterior_id))
    if row is None:
        return None
    return Mark(campaign_row=row.last_campaign_row, pull_row=row.last_pull_row)


def questions_like(
    session: Session,
    column: InstrumentedAttribute[str],
    is_asked: Callable[[Question], bool],
) -> list[str]:
    """Texts of the questions in a column that are asked for; each is read once.

    A season asks few questions thousands of times: what they are is told from these, and
    rows are then chosen by their text.
    """
    found = session.scalars(select(column).distinct())
    return [text for text in found if is_asked(parse(Question, text))]


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
