"""A campaign rehearsed many times before it is pulled: how many pulls until the answer is settled.

Each rehearsed campaign has a truth of its own, drawn from what is believed now. Its pulls go as
they would on the water (:mod:`model.planning.water`), and what is believed after each is the
draws weighted by what was seen. Truths and weighted draws are all fresh ones of one smooth density
around the fit's: weighted draws that hold the truth itself find it too well.
"""

from dataclasses import dataclass, field
from typing import Final

import numpy as np
from numpy.typing import NDArray

from model.planning.annealing import annealed
from model.planning.costs import minutes_matrix
from model.planning.particles import Particles
from model.planning.past import Past
from model.planning.policies import Moment, Policy
from model.planning.reference import Reference
from model.planning.rehearsed import Rehearsed
from model.planning.settled_rule import FINDINGS, NONE, Looks, is_settled, seen_at
from model.planning.standard import Standard
from model.planning.start import Start
from model.planning.water import Luck, Truths

Array = NDArray[np.float64]
Single = NDArray[np.float32]
Places = NDArray[np.int64]

DRAWS: Final = 100_000
"""Weighted draws to begin with, shared by all campaigns."""
MOVED_DRAWS: Final = 2_000
"""Draws of a campaign that has come to have its own."""
WORTH_SHARED, WORTH_OWN = 1_000.0, 300.0
"""Effective draws below which a campaign leaves the shared draws, and has its own moved: a tenth
and a half of them choose the next pair."""
POOL: Final = 50_000
"""Truths of which those near a wanted effect are taken."""


@dataclass(frozen=True, kw_only=True)
class Settings:
    """How much to rehearse.

    Parameters
    ----------
    most_pulls : int
        Pulls after which a campaign ends unsettled; even.
    pulls_a_day : int
        After so many another day begins; even.
    true_effect : float or None
        Truths near this effect (on the scale of the band's ends) only; None for any.
    """

    n_campaign: int = 200
    most_pulls: int = 24
    pulls_a_day: int = 12
    n_draw: int = DRAWS
    seed: int = 1
    true_effect: float | None = None


def rehearse(start: Start, policy: Policy, settings: Settings) -> Rehearsed:
    """Rehearse the first question of a start by one policy.

    Parameters
    ----------
    start : Start
        Only the main question is rehearsed; candidates are those that the policy chooses from.

    Returns
    -------
    Rehearsed
    """
    start = start.narrowed()
    reference = Reference.of(start.draws, start.main.still)
    rng = np.random.default_rng([settings.seed, 1])
    truths = _truths(start, reference, settings, rng)
    standard = _begun(reference, settings.n_draw, rng)
    particles = Particles(reference, standard, start.main, start.rows, start.space, is_shared=True)
    fleet = _Fleet(start, policy, settings, truths)
    fleet.sail(particles, np.arange(settings.n_campaign), n_pulled=0)
    return fleet.result()


def _begun(reference: Reference, n_draw: int, rng: np.random.Generator) -> Standard:
    """Fresh draws on the first day."""
    no_days = np.zeros((n_draw, 0, 2), dtype=np.float32)
    return Standard(of_reference=reference.draw(n_draw, rng), of_days=no_days)


def _truths(
    start: Start, reference: Reference, settings: Settings, rng: np.random.Generator
) -> Truths:
    """Fresh draws as truths: any, or those of many whose effect is nearest to the wanted."""
    n_campaign = settings.n_campaign
    n_pool = n_campaign if settings.true_effect is None else max(POOL, n_campaign)
    draws = reference.reduced(reference.draw(n_pool, rng))
    if settings.true_effect is not None:
        away = np.abs(start.main.effect(draws) - settings.true_effect)
        draws = draws.chosen(np.argsort(away, kind="stable")[:n_campaign])
    n_day = settings.most_pulls // settings.pulls_a_day + 1
    return Truths(draws=draws, luck=Luck.draw(n_campaign, settings.most_pulls, n_day, rng))


@dataclass
class _Fleet:
    """All rehearsed campaigns and how far each has come."""

    start: Start
    policy: Policy
    settings: Settings
    truths: Truths
    settled_at: Places = field(init=False)
    unknown_at: Places = field(init=False)
    finding: Places = field(init=False)
    n_moves: Places = field(init=False)
    moved_at: Places = field(init=False)
    lowest_worth: Array = field(init=False)
    minutes: Array = field(init=False)
    pulled: Places = field(init=False)
    seen: Places = field(init=False)

    def __post_init__(self) -> None:
        n, main = self.settings.n_campaign, self.start.main
        self.settled_at, self.unknown_at, self.n_moves, self.moved_at = (
            np.zeros(n, dtype=np.int64) for _ in range(4)
        )
        self.finding = np.full(n, NONE)
        self.lowest_worth, self.minutes = np.full(n, np.inf), np.zeros(n)
        self.pulled = np.full((n, self.settings.most_pulls), -1)
        self.seen = np.full((n, self.settings.most_pulls), -1)
        self._between = minutes_matrix(self.start.campaign.minutes, self.start.candidates)
        sides = self.start.sides[0]
        self._is_a = np.array([side == "a" for side in sides])
        self._is_b = np.array([side == "b" for side in sides])
        self._n = np.tile([main.n_a, main.n_b], (n, 1))
        self._today = np.zeros((n, 2), dtype=bool)
        self._shares_a_day = np.full(n, main.shares_a_day)
        last = NONE if main.last_look is None else FINDINGS[main.last_look]
        self._last_look = np.full(n, last)

    def sail(
        self,
        particles: Particles,
        members: Places,
        n_pulled: int,
        waiting: Places | None = None,
    ) -> None:
        """Pull on, with one set of weighted draws, until every member has ended.

        Members whose weights come to rest on too few draws go on with draws of their own.

        Parameters
        ----------
        waiting : (member,) int or None
            The second of two candidates, chosen with the one that was just pulled.
        """
        settings = self.settings
        weights = np.full((members.size, particles.size), 1 / particles.size, dtype=np.float32)
        rng = np.random.default_rng([settings.seed, 2, int(members[0]), n_pulled, members.size])
        least = WORTH_SHARED if particles.is_shared else WORTH_OWN
        while n_pulled < settings.most_pulls and members.size:
            if n_pulled // settings.pulls_a_day > particles.day:
                particles.begin_day(rng)
                self._today[members] = False
            if waiting is None:
                both = self._choose(particles, weights, members, n_pulled)
                chosen, waiting = both.T
            else:
                chosen, waiting = waiting, None
            self._pull(particles, weights, members, chosen, n_pulled)
            n_pulled += 1
            is_thin = 1 / np.einsum("cd,cd->c", weights, weights) < least
            for place in np.flatnonzero(is_thin):
                second = None if waiting is None else waiting[[place]]
                member = int(members[place])
                self._go_on_alone(particles, weights[place], member, n_pulled, second)
            members, weights = members[~is_thin], weights[~is_thin]
            waiting = None if waiting is None else waiting[~is_thin]
            goes_on = self._look(particles, weights, members, n_pulled)
            members, weights = members[goes_on], weights[goes_on]
            waiting = None if waiting is None else waiting[goes_on]

    def _choose(
        self, particles: Particles, weights: Single, members: Places, n_pulled: int
    ) -> Places:
        """The next two candidates of each, which of a pair goes first left to a coin."""
        begins_day = n_pulled % self.settings.pulls_a_day == 0
        no_one = len(self.start.candidates)
        last = np.full(members.size, no_one) if begins_day else self.pulled[members, n_pulled - 1]
        moment = Moment(particles=particles, weights=weights, last=last, n_pulled=n_pulled)
        chosen = self.policy.choose(moment)
        if self.policy.is_in_order:
            return chosen
        turned = self.truths.luck.coin[members, n_pulled] < 0.5
        return np.where(turned[:, None], chosen[:, ::-1], chosen)

    def _pull(
        self, particles: Particles, weights: Single, members: Places, chosen: Places, n_pulled: int
    ) -> None:
        """One pull of each, and each one's draws weighted by its outcome, in place."""
        settings, start = self.settings, self.start
        day = n_pulled // settings.pulls_a_day
        begins_day = n_pulled % settings.pulls_a_day == 0
        last = self.pulled[members, n_pulled - 1]
        before = np.full(members.size, -1) if begins_day else last
        self.minutes[members] += self._between[before, chosen]
        self.pulled[members, n_pulled] = chosen
        outcome = self.truths.pull(members, start.rows[chosen], n_pulled, day, start.space)
        self.seen[members, n_pulled] = outcome
        particles.weigh(weights, chosen, outcome)
        own = np.stack([self._is_a[chosen], self._is_b[chosen]], axis=1)
        self._n[members] += own
        self._today[members] |= own
        self._shares_a_day[members] |= self._today[members].all(axis=1)

    def _look(
        self, particles: Particles, weights: Single, members: Places, n_pulled: int
    ) -> NDArray[np.bool_]:
        """Apply the rule; gives which members go on."""
        if not members.size:
            return np.zeros(0, dtype=bool)
        sums = (weights @ particles.members).astype(np.float64)
        squared = weights**2
        worth = 1 / squared.sum(axis=1, dtype=np.float64)
        self.lowest_worth[members] = np.minimum(self.lowest_worth[members], worth)
        whole = sums[:, 3:].sum(axis=1)
        looks = Looks(
            shares=sums[:, :3] / sums[:, :3].sum(axis=1, keepdims=True),
            doubled=sums[:, 3:] / whole[:, None],
            doubled_worth=whole**2 / (squared @ particles.doubled_squared).astype(np.float64),
        )
        n_a, n_b = self._n[members].T
        done = is_settled(looks, self._last_look[members], n_a, n_b, self._shares_a_day[members])
        if self.start.main.never:
            done = np.zeros_like(done)
        self._last_look[members] = seen_at(looks.shares)
        self.settled_at[members[done]] = n_pulled
        self.finding[members[done]] = self._last_look[members[done]]
        goes_on: NDArray[np.bool_] = ~done
        return goes_on

    def _go_on_alone(
        self,
        particles: Particles,
        weights: Single,
        member: int,
        n_pulled: int,
        waiting: Places | None,
    ) -> None:
        """Draw again by the weights, move the draws, look, and pull on with them."""
        rng = np.random.default_rng([self.settings.seed, 3, member, n_pulled])
        main, rows, space = self.start.main, self.start.rows, self.start.space
        log_chance = np.log(np.maximum(weights, np.finfo(np.float32).tiny).astype(np.float64))
        moved_at = int(self.moved_at[member])
        found = annealed(
            particles.reference,
            (particles.standard, log_chance),
            self._past(member, 0, moved_at),
            self._past(member, moved_at, n_pulled),
            space,
            main.effect,
            MOVED_DRAWS,
            rng,
        )
        self.lowest_worth[member] = min(self.lowest_worth[member], found.lowest_worth)
        if not found.has_moved:
            self.unknown_at[member] = n_pulled
            return
        own = Particles(particles.reference, found.standard, main, rows, space, is_shared=False)
        self.n_moves[member] += found.stages
        self.moved_at[member] = n_pulled
        alone, alike = np.array([member]), np.full((1, own.size), 1 / own.size, dtype=np.float32)
        if self._look(own, alike, alone, n_pulled)[0]:
            self.sail(own, alone, n_pulled, waiting)

    def _past(self, member: int, begin: int, end: int) -> Past:
        """Pulls `begin` to `end` of a campaign."""
        pulled = self.pulled[member, begin:end]
        days = np.arange(begin, end) // self.settings.pulls_a_day
        return Past.of(self.start.rows[pulled], self.seen[member, begin:end], days)

    def result(self) -> Rehearsed:
        """What came of all campaigns."""
        effect = self.start.main.effect(self.truths.draws)
        return Rehearsed(
            question=self.start.main.question,
            policy=self.policy.name,
            candidates=self.start.candidates,
            most_pulls=self.settings.most_pulls,
            pulls_a_day=self.settings.pulls_a_day,
            effect=effect,
            region=self.start.main.regions(self.truths.draws).place,
            settled_at=self.settled_at,
            finding=self.finding,
            unknown_at=self.unknown_at,
            minutes=self.minutes,
            lowest_worth=self.lowest_worth,
            n_moves=self.n_moves,
            pulled=self.pulled,
            seen=self.seen,
        )
