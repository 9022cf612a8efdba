"""Attempts at a fit, and posteriors that passed."""

import json
import secrets
from collections.abc import Sequence
from typing import Literal

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from model.base.errors import DrawsGone, InputError, StoreError
from model.posterior.posterior import Posterior
from model.store import posterior_files
from model.store.entries import (
    OF_TRAIL,
    Attempt,
    AttemptState,
    StoredPosterior,
    attempt_from,
    stored_posterior_from,
)
from model.store.opened import Opened
from model.store.queries import forget_old_files, mark_now, newest_posterior_row
from model.store.revisions import Mark
from model.store.tables import AttemptRow, PosteriorRow


class KeptFits(Opened):
    """Fits of a store: how each attempt ended, and the draws of those that passed."""

    def begin_attempt(self, fingerprint: str) -> None:
        """Note that a fit of these facts begins; a killed one stays ``started``.

        Tries are counted from the last one that passed.
        """
        with self._database.writing() as session:
            row = session.get(AttemptRow, fingerprint)
            tries = 1 if row is None or row.state == "passed" else row.tries + 1
            self._put_attempt(session, fingerprint, "started", (), tries)

    def stop_attempt(self, fingerprint: str, reason: str) -> None:
        """Note why a fit stopped before it ended; it stays ``started``, and counts as a try."""
        with self._database.writing() as session:
            row = session.get(AttemptRow, fingerprint)
            tries = 1 if row is None else row.tries
            self._put_attempt(session, fingerprint, "started", (reason,), tries)

    def withdraw_attempt(self, fingerprint: str, before: Attempt | None) -> None:
        """Put back how it was before a fit began that was stopped on purpose: no try was lost.

        Parameters
        ----------
        before : Attempt or None
            The attempt at this fingerprint before; None where there was none.
        """
        with self._database.writing() as session:
            row = session.get(AttemptRow, fingerprint)
            if row is not None and before is None:
                session.delete(row)
            elif row is not None and before is not None:
                row.state, row.tries, row.at = before.state, before.tries, before.at
                row.reasons = json.dumps(before.reasons)

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
        """The attempt at a fit that began or ended last; None before the first.

        Not one at a point of a trail: it is no fit that answers wait for.
        """
        is_fit = AttemptRow.fingerprint.not_like(f"{OF_TRAIL}%")
        chosen = select(AttemptRow).where(is_fit).order_by(AttemptRow.at.desc()).limit(1)
        with self._database.reading() as session:
            row = session.scalar(chosen)
            return None if row is None else attempt_from(row)

    def attempt(self, fingerprint: str) -> Attempt | None:
        """The newest attempt at one fingerprint."""
        with self._database.reading() as session:
            row = session.get(AttemptRow, fingerprint)
            return None if row is None else attempt_from(row)

    def save_posterior(self, posterior: Posterior, *, mark: Mark | None = None) -> StoredPosterior:
        """Make a posterior that passed its fit check the newest one.

        The file is swapped in first and the row follows: whoever is stopped in
        between leaves the previous posterior in place. To be called under the
        store's fit lock.

        Parameters
        ----------
        posterior : Posterior
        mark : Mark or None
            Of the facts that it was fitted to; None for those that are there now.

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
            seen = mark_now(session) if mark is None else mark
            stored = self._put_posterior(session, posterior, name, sha256, seen)
            kept = forget_old_files(session)
        posterior_files.discard_all_but(self.folder, kept)
        return stored

    def _put_posterior(
        self, session: Session, posterior: Posterior, name: str, sha256: str, mark: Mark
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
        row.last_campaign_row, row.last_pull_row = mark.campaign_row, mark.pull_row
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
        stored = self.newest_stored()
        if stored is None:
            return None
        try:
            return self.posterior(stored.id)
        except DrawsGone:
            newest = self.newest_stored()
            if newest is None or newest.id == stored.id:
                raise
            return self.newest_posterior()  # fits ended meanwhile

    def posterior(self, identity: str) -> Posterior:
        """The posterior of one fit, read and verified, whatever was fitted since.

        Parameters
        ----------
        identity : str
            As :class:`StoredPosterior` names it.

        Raises
        ------
        DrawsGone
            If its draws were given up for newer ones, or there never were any.
        StoreError
            If its file is missing, truncated or changed.
        PosteriorInvalid
            If its draws are not as declared.
        """
        file, sha256 = self._file_of(identity)
        try:
            return posterior_files.read(self.folder, file, sha256)
        except StoreError:
            # Another fit removes files right after it has given them up.
            if self._file_of(identity) == (file, sha256):
                raise
            return self.posterior(identity)

    def _file_of(self, identity: str) -> tuple[str, str]:
        """Name and hash of the file of a posterior's draws."""
        with self._database.reading() as session:
            row = session.scalar(select(PosteriorRow).where(PosteriorRow.id == identity))
        if row is None or row.file is None:
            raise DrawsGone(
                f"the draws of the posterior {identity} are gone", hint="Run `kedgewise fit`."
            )
        return row.file, row.sha256

    def verify_newest_posterior(self) -> None:
        """Check that the newest posterior's file is what was stored, without reading its draws.

        Raises
        ------
        StoreError
            If the file is missing, truncated or changed.
        """
        stored = self.newest_stored()
        if stored is not None:
            posterior_files.read_verified(self.folder, *self._file_of(stored.id))
