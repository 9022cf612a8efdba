"""The tables of a store; every row but an attempt's and a posterior's file is written once.

A change here takes a new :data:`SCHEMA_VERSION` and a migration to it in
``model/store/migrations``; a test holds the two against each other.
"""

import datetime as dt
from collections.abc import Callable
from typing import Any, Final

from sqlalchemy import (
    CheckConstraint,
    DateTime,
    ForeignKey,
    Index,
    Integer,
    String,
    Text,
    TypeDecorator,
    UniqueConstraint,
    false,
)
from sqlalchemy.engine import Dialect
from sqlalchemy.orm import DeclarativeBase, Mapped, mapped_column

from model.base.errors import StoreError
from model.records.campaign import Campaign

SCHEMA_VERSION: Final = 3
"""Version of these tables; a store with a higher one was made by a newer program."""


CHANGED_BY_HAND: Final = "The store was changed by hand or by another version. Use a safe copy."


class WholeNumber(TypeDecorator[int]):
    """A whole number; SQLite itself takes any text in its place."""

    impl = Integer
    cache_ok = True

    def process_result_value(self, value: int | None, dialect: Dialect) -> int | None:
        """Refuse what is no whole number on the way out."""
        del dialect
        if value is not None and not isinstance(value, int):
            raise StoreError(f"a stored number cannot be read: {value!r}", hint=CHANGED_BY_HAND)
        return value


class UtcTime(TypeDecorator[dt.datetime]):
    """An aware time kept as UTC; SQLite itself forgets the zone."""

    impl = DateTime
    cache_ok = True

    def process_bind_param(self, value: dt.datetime | None, dialect: Dialect) -> dt.datetime | None:
        """To naive UTC on the way in."""
        del dialect
        return None if value is None else value.astimezone(dt.UTC).replace(tzinfo=None)

    def result_processor(self, dialect: Dialect, coltype: object) -> Callable[[Any], Any] | None:
        """Refuse what is no time on the way out."""
        process = super().result_processor(dialect, coltype)

        def read(value: object) -> object:
            try:
                return value if process is None else process(value)
            except (TypeError, ValueError) as error:
                raise StoreError(
                    f"a stored time cannot be read: {value!r}", hint=CHANGED_BY_HAND
                ) from error

        return read

    def process_result_value(
        self, value: dt.datetime | None, dialect: Dialect
    ) -> dt.datetime | None:
        """To aware UTC on the way out."""
        del dialect
        return None if value is None else value.replace(tzinfo=dt.UTC)


class Table(DeclarativeBase):
    """Base of the tables."""


class SchemaRow(Table):
    """One row: the version of the tables."""

    __tablename__ = "schema_version"
    __table_args__ = (CheckConstraint("id = 1", name="one_row"),)

    id: Mapped[int] = mapped_column(primary_key=True)
    version: Mapped[int] = mapped_column(WholeNumber)


class MigrationRow(Table):
    """One row: the last migration done, as Alembic keeps it."""

    __tablename__ = "alembic_version"

    version_num: Mapped[str] = mapped_column(String(32), primary_key=True)


class CampaignRow(Table):
    """The campaign as it was stored each time; the newest row holds."""

    __tablename__ = "campaign"

    id: Mapped[int] = mapped_column(primary_key=True)
    name: Mapped[str] = mapped_column(String(120))
    record: Mapped[str] = mapped_column(Text)
    stored_at: Mapped[dt.datetime] = mapped_column(UtcTime)


def campaign_row(campaign: Campaign, stored_at: dt.datetime) -> CampaignRow:
    """The row of one version of a campaign."""
    return CampaignRow(name=campaign.name, record=campaign.model_dump_json(), stored_at=stored_at)


class PullRow(Table):
    """One revision of a pull, never changed afterwards; its identity is (outing, code).

    A pull that was taken out is a revision too, with the record it had before.
    """

    __tablename__ = "pull"
    __table_args__ = (UniqueConstraint("outing", "code", "revision"),)

    id: Mapped[int] = mapped_column(primary_key=True)
    outing: Mapped[str] = mapped_column(String(120))
    code: Mapped[str] = mapped_column(String(120))
    revision: Mapped[int] = mapped_column(default=1)
    anchor: Mapped[str] = mapped_column(String(120), index=True)
    seabed: Mapped[str] = mapped_column(String(120), index=True)
    record: Mapped[str] = mapped_column(Text)
    source: Mapped[str] = mapped_column(Text)
    who: Mapped[str] = mapped_column(Text, default="", server_default="")
    why: Mapped[str] = mapped_column(Text, default="", server_default="")
    is_removed: Mapped[bool] = mapped_column(default=False, server_default=false())
    stored_at: Mapped[dt.datetime] = mapped_column(UtcTime)


class AttemptRow(Table):
    """The newest attempt at one fingerprint: a fit that failed its check must not loop."""

    __tablename__ = "attempt"

    fingerprint: Mapped[str] = mapped_column(String(80), primary_key=True)
    state: Mapped[str] = mapped_column(String(20))
    reasons: Mapped[str] = mapped_column(Text)
    tries: Mapped[int] = mapped_column(WholeNumber)
    at: Mapped[dt.datetime] = mapped_column(UtcTime, index=True)


class PosteriorRow(Table):
    """A posterior that passed; `file` is None once its draws were given up for newer ones.

    The two rows are the last ones that were there when its facts were read: with
    those up to them every answer of it can be shown again as it was.
    """

    __tablename__ = "posterior"

    number: Mapped[int] = mapped_column(primary_key=True)
    id: Mapped[str] = mapped_column(String(80), unique=True)
    pulls_fingerprint: Mapped[str] = mapped_column(String(80))
    pull_count: Mapped[int] = mapped_column(WholeNumber)
    last_campaign_row: Mapped[int] = mapped_column(WholeNumber, server_default="0")
    last_pull_row: Mapped[int] = mapped_column(WholeNumber, server_default="0")
    is_published: Mapped[bool] = mapped_column(default=False)
    file: Mapped[str | None] = mapped_column(Text)
    sha256: Mapped[str] = mapped_column(String(64))
    stored_at: Mapped[dt.datetime] = mapped_column(UtcTime)


class AnswerRow(Table):
    """One answer as it stood; append-only, kept for ever."""

    __tablename__ = "answer"
    __table_args__ = (Index("answer_question", "question_name", "number"),)

    number: Mapped[int] = mapped_column(primary_key=True)
    question_name: Mapped[str] = mapped_column(String(120))
    question: Mapped[str] = mapped_column(Text)
    summary: Mapped[str] = mapped_column(Text)
    posterior_id: Mapped[str] = mapped_column(ForeignKey("posterior.id"))
    answered_at: Mapped[dt.datetime] = mapped_column(UtcTime)


class TrailRow(Table):
    """One question's answer once so many pulls were known, on the way to now; append-only.

    `fingerprint` stands for the facts of those pulls: after a correction they want other rows,
    and these are no longer looked at. `state` says how it was answered, or why it was not.
    """

    __tablename__ = "trail"
    __table_args__ = (UniqueConstraint("fingerprint", "question", "state", "fit"),)

    number: Mapped[int] = mapped_column(primary_key=True)
    fingerprint: Mapped[str] = mapped_column(String(80))
    question: Mapped[str] = mapped_column(Text)
    fit: Mapped[str] = mapped_column(String(80))
    state: Mapped[str] = mapped_column(String(20))
    pull_count: Mapped[int] = mapped_column(WholeNumber)
    last_pull: Mapped[str] = mapped_column(Text)
    summary: Mapped[str | None] = mapped_column(Text)
    reason: Mapped[str] = mapped_column(Text)
    answered_at: Mapped[dt.datetime] = mapped_column(UtcTime)
