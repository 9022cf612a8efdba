"""A store: one folder with a database of facts and answers, and posteriors beside it."""

import datetime as dt
import json
import secrets
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Literal, Self

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from model.base.errors import InputError, NoStore, StoreError
from model.posterior.posterior import Posterior
from model.records.answer import AnswerSummary
from model.records.campaign import Campaign
from model.records.pull import Pull
from model.records.question import Question
from model.store import posterior_files
from model.store.database import DATABASE_NAME, Database
from model.store.entries import (
    Attempt,
    AttemptState,
    StoredAnswer,
    StoredPosterior,
    attempt_from,
    stored_answer_from,
    stored_posterior_from,
)
from model.store.facts import (
    PLAINLY,
    Added,
    Written,
    campaign_faults,
    new_pulls,
    require_known,
)
from model.store.queries import (
    current_campaign,
    current_pulls,
    forget_old_files,
    newest_posterior_row,
)
from model.store.tables import AnswerRow, AttemptRow, CampaignRow, PosteriorRow, PullRow

Clock = Callable[[], dt.datetime]


def utc_now() -> dt.datetime:
    """The time now, with its zone."""
    return dt.datetime.now(dt.UTC)


class Store:
    """Facts in, facts out; made by :meth:`create` or :meth:`open`.

    Every method is one transaction. Readers never wait for a writer.

    Parameters
    ----------
    folder : Path
        Holds ``kedgewise.sqlite`` and ``posteriors/``.
    clock : callable
        Gives the time, with its zone, that rows are stamped with.
    """

    def __init__(self, folder: Path, *, clock: Clock = utc_now) -> None:
        self.folder = folder
        self._clock = clock
        self._database = Database(folder / DATABASE_NAME)

    @classmethod
    def create(cls, folder: Path, campaign: Campaign, *, clock: Clock = utc_now) -> Self:
        """Make a store for a campaign.

        Raises
        ------
        StoreError
            If a store is there already, or the folder cannot be written.
        """
        store = cls(folder, clock=clock)
        try:
            folder.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            raise StoreError(
                f"the folder {folder} cannot be made ({error})",
                hint="Choose another place with --store, or check who may write there.",
            ) from error
        with store._database.writing() as session:
            store._database.make_tables(session)
            store._put_campaign(session, campaign)
        return store

    @classmethod
    def open(cls, folder: Path, *, clock: Clock = utc_now) -> Self:
        """Open the store in a folder.

        Raises
        ------
        NoStore
            If there is none.
        StoreError
            If it is damaged, foreign, or of a newer version.
        """
        if not holds_store(folder):
            raise NoStore(
                f"there is no store in {folder}",
                hint="Make one with `kedgewise demo` or `kedgewise new CAMPAIGN.toml`, "
                "or name another with --store; `kedgewise stores` lists those known.",
            )
        store = cls(folder, clock=clock)
        store._database.check()
        return store

    # --- facts ---

    def campaign(self) -> Campaign:
        """The campaign as it stands now."""
        with self._database.reading() as session:
            return current_campaign(session)

    def replace_campaign(self, campaign: Campaign) -> None:
        """Store a changed campaign; the earlier ones are kept.

        Raises
        ------
        InputError
            If stored pulls would lose something that they refer to.
        """
        with self._database.writing() as session:
            old = current_campaign(session)
            faults = campaign_faults(old, campaign, tuple(current_pulls(session).values()))
            if faults:
                raise InputError(
                    "the changed campaign does not fit the stored pulls: " + "; ".join(faults),
                    hint="The stored campaign stands. Keep what pulls refer to, and give "
                    "something new a new name; another campaign takes another --store.",
                )
            if campaign != old:
                self._put_campaign(session, campaign)

    def _put_campaign(self, session: Session, campaign: Campaign) -> None:
        record = campaign.model_dump_json()
        session.add(CampaignRow(name=campaign.name, record=record, stored_at=self._clock()))

    def pulls(self) -> tuple[Pull, ...]:
        """Every pull, void ones too, in the order they were stored."""
        with self._database.reading() as session:
            return tuple(current_pulls(session).values())

    def add_pulls(self, pulls: Sequence[Pull], source: str, *, written: Written = PLAINLY) -> Added:
        """Store the pulls that are new: all of them, or after any fault none.

        Parameters
        ----------
        pulls : sequence of Pull
            Those that are stored already, with the same content, are skipped.
        source : str
            Name of the file they came from.
        written : Written
            How that file writes them, for faults in its own lines and units.

        Raises
        ------
        FaultyFile
            If a stored pull comes with other content (old → new per field), or
            one identity comes twice.
        InputError
            If a pull names what the campaign does not know.
        """
        with self._database.writing() as session:
            require_known(current_campaign(session), pulls)
            fresh = new_pulls(pulls, current_pulls(session), source=source, written=written)
            session.add_all(self._pull_row(pull, source) for pull in fresh)
        return Added(added=len(fresh), skipped=len(pulls) - len(fresh))

    def _pull_row(self, pull: Pull, source: str) -> PullRow:
        return PullRow(
            outing=pull.outing,
            code=pull.code,
            revision=1,
            anchor=pull.anchor,
            seabed=pull.seabed,
            record=pull.model_dump_json(),
            source=source,
            stored_at=self._clock(),
        )

    # --- attempts and posteriors ---

    def begin_attempt(self, fingerprint: str) -> None:
        """Note that a fit of these facts begins; a killed one stays ``started``."""
        with self._database.writing() as session:
            row = session.get(AttemptRow, fingerprint)
            tries = 1 if row is None else row.tries + 1
            self._put_attempt(session, fingerprint, "started", (), tries)

    def end_attempt(
        self, fingerprint: str, state: Literal["passed", "failed"], reasons: Sequence[str] = ()
    ) -> None:
        """Note how a fit of these facts ended."""
        with self._database.writing() as session:
            row = session.get(AttemptRow, fingerprint)
            tries = 1 if row is None else row.tries
            self._put_attempt(session, fingerprint, state, reasons, tries)

    def _put_attempt(
        self,
        session: Session,
        fingerprint: str,
        state: AttemptState,
        reasons: Sequence[str],
        tries: int,
    ) -> None:
        session.merge(
            AttemptRow(
                fingerprint=fingerprint,
                state=state,
                reasons=json.dumps(list(reasons)),
                tries=tries,
                at=self._clock(),
            )
        )

    def newest_attempt(self) -> Attempt | None:
        """The attempt that began or ended last; None before the first."""
        with self._database.reading() as session:
            row = session.scalar(select(AttemptRow).order_by(AttemptRow.at.desc()).limit(1))
            return None if row is None else attempt_from(row)

    def attempt(self, fingerprint: str) -> Attempt | None:
        """The newest attempt at one fingerprint."""
        with self._database.reading() as session:
            row = session.get(AttemptRow, fingerprint)
            return None if row is None else attempt_from(row)

    def save_posterior(self, posterior: Posterior) -> StoredPosterior:
        """Make a posterior that passed its fit check the newest one.

        The file is swapped in first and the row follows: whoever is stopped in
        between leaves the previous posterior in place. To be called under the
        store's fit lock.

        Raises
        ------
        InputError
            If the fit check failed; see :meth:`end_attempt` for those.
        PosteriorInvalid, StoreError
            If the draws are not as declared, or cannot be written.
        """
        if posterior.fit_check.status != "passed":
            raise InputError(
                f"posterior {posterior.provenance.id} failed its fit check",
                hint="Only draws that passed are stored; the previous posterior stands.",
            )
        name, sha256 = posterior_files.write(self.folder, posterior, mark=secrets.token_hex(8))
        with self._database.writing() as session:
            stored = self._put_posterior(session, posterior, name, sha256)
            kept = forget_old_files(session)
        posterior_files.discard_all_but(self.folder, kept)
        return stored

    def _put_posterior(
        self, session: Session, posterior: Posterior, name: str, sha256: str
    ) -> StoredPosterior:
        provenance = posterior.provenance
        row = session.scalar(select(PosteriorRow).where(PosteriorRow.id == provenance.id))
        newest = session.scalar(select(func.max(PosteriorRow.number))) or 0
        if row is None:
            row = PosteriorRow(id=provenance.id, is_published=False)
            session.add(row)
        row.number = newest + 1  # facts changed and changed back: the same id is the newest again
        row.pulls_fingerprint = provenance.pulls_fingerprint
        row.pull_count = len(provenance.pull_ids)
        row.file, row.sha256, row.stored_at = name, sha256, self._clock()
        session.flush()
        return stored_posterior_from(row)

    def newest_stored(self) -> StoredPosterior | None:
        """What is known of the newest posterior, without reading its draws."""
        with self._database.reading() as session:
            row = session.scalar(newest_posterior_row())
            return None if row is None else stored_posterior_from(row)

    def newest_posterior(self) -> Posterior | None:
        """The newest posterior that passed, read and verified; None before the first.

        Raises
        ------
        StoreError
            If its file is missing, truncated or changed.
        PosteriorInvalid
            If its draws are not as declared.
        """
        with self._database.reading() as session:
            row = session.scalar(newest_posterior_row())
        if row is None or row.file is None:
            return None
        return posterior_files.read(self.folder, row.file, row.sha256)

    def verify_newest_posterior(self) -> None:
        """Check that the newest posterior's file is what was stored, without reading its draws.

        Raises
        ------
        StoreError
            If the file is missing, truncated or changed.
        """
        with self._database.reading() as session:
            row = session.scalar(newest_posterior_row())
        if row is not None and row.file is not None:
            posterior_files.read_verified(self.folder, row.file, row.sha256)

    # --- answers ---

    def add_answers(
        self, answers: Sequence[tuple[Question, AnswerSummary]], *, posterior_id: str
    ) -> None:
        """Keep answers for ever, as they stand now; they belong to a stored posterior."""
        with self._database.writing() as session:
            session.add_all(
                AnswerRow(
                    question_name=question.name,
                    question=question.model_dump_json(),
                    summary=summary.model_dump_json(),
                    posterior_id=posterior_id,
                    answered_at=self._clock(),
                )
                for question, summary in answers
            )

    def stored_answers(self) -> tuple[StoredAnswer, ...]:
        """Every answer ever kept, oldest first."""
        chosen = select(AnswerRow).order_by(AnswerRow.number)
        with self._database.reading() as session:
            return tuple(stored_answer_from(row) for row in session.scalars(chosen))


def needs_making(folder: Path) -> bool:
    """Whether a folder has no store yet: no database, or one whose making was interrupted.

    Raises
    ------
    StoreError
        If the folder or the file in it cannot be read.
    """
    return not holds_store(folder) or Database(folder / DATABASE_NAME).is_empty()


def holds_store(folder: Path) -> bool:
    """Whether a folder has a store's database; a folder that may not be read is said so.

    Raises
    ------
    StoreError
        If the folder cannot be looked into.
    """
    try:
        return (folder / DATABASE_NAME).is_file()
    except OSError as error:
        raise StoreError(
            f"the folder {folder} cannot be read ({error})",
            hint="Check who may read it, or name another store with --store.",
        ) from error
