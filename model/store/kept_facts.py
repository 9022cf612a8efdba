"""The campaign and its pulls: facts in, facts out, nothing overwritten."""

from collections.abc import Callable, Mapping, Sequence
from typing import Final

from sqlalchemy.orm import Session

from model.base.errors import InputError, StoreError
from model.records.campaign import Campaign
from model.records.pull import Pull
from model.store.facts import (
    PLAINLY,
    Added,
    Revised,
    Sorted,
    Written,
    campaign_faults,
    differences,
    require_known,
    sort_pulls,
)
from model.store.opened import Opened
from model.store.queries import current_campaign, mark_now, mark_of
from model.store.revisions import (
    Facts,
    Mark,
    Reason,
    Revision,
    StoredCampaign,
    all_campaigns,
    all_revisions,
    current_pulls,
    first_stored_after,
    newest_revisions,
    pull_row,
    require_removed,
    require_stored,
    require_unchanged,
    revisions_of,
    row_of,
)
from model.store.tables import campaign_row

TAKEN_OUT: Final = "taken out"
PUT_BACK: Final = "put back"
"""Sources of revisions that come from no file."""

Decide = Callable[[Campaign, tuple[Revision, ...]], tuple[Campaign, Sequence[Revision]]]
"""From campaign and history to the campaign that is to hold, and revisions to be added."""


class KeptFacts(Opened):
    """Facts of a store; every change is one transaction, and leaves what was there before."""

    def campaign(self) -> Campaign:
        """The campaign as it stands now."""
        with self._database.reading() as session:
            return current_campaign(session)

    def pulls(self) -> tuple[Pull, ...]:
        """Every pull, void ones too, in the order they were first stored."""
        with self._database.reading() as session:
            return current_pulls(session)

    def facts(self) -> Facts:
        """Campaign and pulls of one moment, with its mark."""
        with self._database.reading() as session:
            return _facts_at(session, mark_now(session))

    def mark(self) -> Mark:
        """The last rows that are there: it changes whenever facts do, and is cheap to read."""
        with self._database.reading() as session:
            return mark_now(session)

    def facts_at(self, mark: Mark) -> Facts:
        """Campaign and pulls of an earlier moment."""
        with self._database.reading() as session:
            return _facts_at(session, mark)

    def facts_behind(self, posterior_id: str) -> Facts:
        """Campaign and pulls as they stood when a posterior's facts were read.

        Raises
        ------
        StoreError
            If the store has no such posterior.
        """
        with self._database.reading() as session:
            return _facts_at(session, _mark_behind(session, posterior_id))

    def stored_since(self, posterior_id: str) -> frozenset[str]:
        """Identities of pulls that were first stored after a posterior's facts had been read.

        Raises
        ------
        StoreError
            If the store has no such posterior.
        """
        with self._database.reading() as session:
            return first_stored_after(session, _mark_behind(session, posterior_id).pull_row)

    def history(self) -> tuple[tuple[StoredCampaign, ...], tuple[Revision, ...]]:
        """Every version of the campaign, and every revision of every pull, oldest first."""
        with self._database.reading() as session:
            return all_campaigns(session), all_revisions(session)

    def replace_campaign(self, campaign: Campaign) -> None:
        """Store a changed campaign; the earlier ones are kept.

        Raises
        ------
        InputError
            If stored pulls would lose something that they refer to.
        """
        with self._database.writing() as session:
            old = current_campaign(session)
            # Those taken out too: they can be put back, and must still mean what they did.
            pulls = [revision.pull for revision in newest_revisions(session).values()]
            faults = campaign_faults(old, campaign, pulls)
            if faults:
                raise InputError(
                    "the changed campaign does not fit the stored pulls: " + "; ".join(faults),
                    hint="The stored campaign stands. Keep what pulls refer to, and give "
                    "something new a new name; another campaign takes another --store.",
                )
            if campaign != old:
                self._put_campaign(session, campaign)

    def merge(self, decide: Decide) -> None:
        """Store what another store knows beyond this one, with when, by whom and why each came.

        Parameters
        ----------
        decide : callable
            Called while nobody else writes; whatever it raises, nothing is stored. What it
            gives must lose nothing that stored pulls refer to, and number the revisions on.

        Raises
        ------
        InputError
            If a revision names what the campaign does not know.
        """
        with self._database.writing() as session:
            old = current_campaign(session)
            campaign, revisions = decide(old, all_revisions(session))
            require_known(campaign, [revision.pull for revision in revisions])
            if campaign != old:
                self._put_campaign(session, campaign)
            for revision in revisions:
                session.add(row_of(revision))
                session.flush()  # the later of two has the higher number

    def _put_campaign(self, session: Session, campaign: Campaign) -> None:
        session.add(campaign_row(campaign, self._clock()))

    def add_pulls(
        self,
        pulls: Sequence[Pull],
        source: str,
        *,
        written: Written = PLAINLY,
        reason: Reason | None = None,
    ) -> Added:
        """Store the pulls that are new: all of them, or after any fault none.

        Parameters
        ----------
        pulls : sequence of Pull
            Those that are stored already, with the same content, are skipped.
        source : str
            Name of the file they came from.
        written : Written
            How that file writes them, for faults in its own lines and units.
        reason : Reason or None
            Why stored pulls that come with other content are corrected; None to refuse them.

        Raises
        ------
        FaultyFile
            If a stored pull comes with other content (old → new per field) and there
            is no reason, or one identity comes twice.
        InputError
            If a pull names what the campaign does not know.
        """
        with self._database.writing() as session:
            require_known(current_campaign(session), pulls)
            known = newest_revisions(session, names=_ids(pulls))
            found = sort_pulls(
                pulls, known, source=source, written=written, may_change=reason is not None
            )
            self._put_pulls(session, found.fresh, known, source)
            self._put_pulls(session, found.changed, known, source, reason)
        return _added(found, known, written)

    def preview_pulls(
        self, pulls: Sequence[Pull], source: str, *, written: Written = PLAINLY
    ) -> Added:
        """What :meth:`add_pulls` would do with a reason; nothing is stored.

        Raises
        ------
        FaultyFile, InputError
            As there.
        """
        with self._database.reading() as session:
            require_known(current_campaign(session), pulls)
            known = newest_revisions(session, names=_ids(pulls))
        found = sort_pulls(pulls, known, source=source, written=written, may_change=True)
        return _added(found, known, written)

    def correct_pulls(
        self,
        pulls: Sequence[Pull],
        source: str,
        reason: Reason,
        *,
        seen: Mapping[str, int] | None = None,
    ) -> Added:
        """Store other content for pulls that are there; those that are not are refused.

        Parameters
        ----------
        seen : mapping of str to int, optional
            Number of the revision on which each correction rests, by the pull's identity; of two
            who correct one pull at once the second would else undo the first unseen.

        Raises
        ------
        InputError
            If one was never stored or is taken out, names what the campaign does not know, or is
            no longer what was seen.
        """
        with self._database.writing() as session:
            require_known(current_campaign(session), pulls)
            known = newest_revisions(session, names=_ids(pulls))
            require_stored(known, _ids(pulls))
            require_unchanged(known, seen or {})
            found = sort_pulls(pulls, known, source=source, may_change=True)
            self._put_pulls(session, found.changed, known, source, reason)
        return _added(found, known, PLAINLY)

    def remove_pulls(self, names: Sequence[str], reason: Reason) -> None:
        """Take pulls out, by identity; each stays in its history and can be put back.

        Raises
        ------
        InputError
            If one is not there; then none is taken out.
        """
        with self._database.writing() as session:
            known = newest_revisions(session, names=names)
            require_stored(known, names)
            session.add_all(
                pull_row(
                    known[name].pull,
                    known[name],
                    source=TAKEN_OUT,
                    stored_at=self._clock(),
                    reason=reason,
                    is_removed=True,
                )
                for name in dict.fromkeys(names)
            )

    def put_back_pulls(self, names: Sequence[str], reason: Reason) -> None:
        """Put pulls back that were taken out, as they were then.

        Raises
        ------
        InputError
            If one was not taken out, or names what the campaign no longer has; then none is put
            back.
        """
        with self._database.writing() as session:
            known = newest_revisions(session, names=names)
            require_removed(known, names)
            pulls = [known[name].pull for name in dict.fromkeys(names)]
            require_known(current_campaign(session), pulls)
            self._put_pulls(session, pulls, known, PUT_BACK, reason)

    def revisions(self, name: str) -> tuple[Revision, ...]:
        """Every version of one pull, oldest first, by its identity ``outing/code``.

        Raises
        ------
        InputError
            If it was never stored.
        """
        with self._database.reading() as session:
            known = newest_revisions(session, names=[name])
            if name not in known:
                require_stored(known, [name])
            pull = known[name].pull
            return revisions_of(session, pull.outing, pull.code)

    def revision_numbers(self, names: Sequence[str]) -> dict[str, int]:
        """Number of the newest revision of some pulls, by identity; without those not there."""
        with self._database.reading() as session:
            found = newest_revisions(session, names=names)
        return {name: found[name].number for name in names if name in found}

    def removed_pulls(self) -> tuple[Revision, ...]:
        """Pulls that were taken out, each with who did, when and why."""
        with self._database.reading() as session:
            found = newest_revisions(session).values()
        return tuple(revision for revision in found if revision.is_removed)

    def _put_pulls(
        self,
        session: Session,
        pulls: Sequence[Pull],
        known: dict[str, Revision],
        source: str,
        reason: Reason | None = None,
    ) -> None:
        session.add_all(
            pull_row(
                pull, known.get(pull.id), source=source, stored_at=self._clock(), reason=reason
            )
            for pull in pulls
        )


def _ids(pulls: Sequence[Pull]) -> list[str]:
    return [pull.id for pull in pulls]


def _mark_behind(session: Session, posterior_id: str) -> Mark:
    mark = mark_of(session, posterior_id)
    if mark is None:
        raise StoreError(
            f"the store has no posterior {posterior_id}", hint="Its answers name those it has."
        )
    return mark


def _facts_at(session: Session, mark: Mark) -> Facts:
    return Facts(
        campaign=current_campaign(session, last_row=mark.campaign_row),
        pulls=current_pulls(session, last_row=mark.pull_row),
        mark=mark,
    )


def _added(found: Sorted, known: Mapping[str, Revision], written: Written) -> Added:
    return Added(
        added=len(found.fresh),
        skipped=len(found.same),
        revised=tuple(_revised(known[pull.id], pull, written) for pull in found.changed),
        removed=sum(known[pull.id].is_removed for pull in found.same),
    )


def _revised(old: Revision, new: Pull, written: Written) -> Revised:
    changes = differences(old.pull, new, written)
    back = ["put back"] if old.is_removed else []
    return Revised(name=new.id, changes=(*back, *changes))
