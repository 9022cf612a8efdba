"""Questions that are rehearsed for the tables: fixed before the first run, results for all."""

from dataclasses import dataclass
from functools import cache
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

from model.calibration.simulated import demo_campaign
from model.planning.candidates import Candidate, candidates, contrasts
from model.planning.policies import Alternate, Informative, Policy, Rotate
from model.planning.start import Start, start_of_posterior, start_of_priors
from model.posterior.posterior import Posterior
from model.records.campaign import Campaign
from model.records.question import Measure, Question, SetUp
from model.simulate.hollow_sound import simulate_hollow_sound

CAMPAIGNS: Final = 500
PULLS_A_DAY: Final = 12
SEED: Final = 1
CHOSEN, PER_HOUR, ROTATED, ALTERNATED = "chosen", "chosen-an-hour", "rotated", "alternated"


@dataclass(frozen=True, kw_only=True)
class Scenario:
    """One question, where it starts from, and what may be pulled.

    Parameters
    ----------
    treatment : str
        The candidates differ in its levels; all other treatments stay at their baseline.
    begins : {"priors", "demo"}
        Before the first pull of the invented campaign, or after its ninety.
    anchor, seabed : str or None
        The only one that is pulled and asked about; None for all.
    against : str or None
        Another anchor that the anchor is held against, in the place of a treatment.
    """

    name: str
    begins: Literal["priors", "demo"]
    most_pulls: int
    treatment: str = ""
    level: str = ""
    anchor: str | None = None
    seabed: str | None = None
    against: str | None = None
    measure: Measure = Measure.TYPICAL

    @property
    def policies(self) -> tuple[str, ...]:
        """Ways to choose that are held against each other."""
        return (CHOSEN, PER_HOUR, ROTATED) if self.anchor is None else (CHOSEN, ALTERNATED)

    def question(self) -> Question:
        """The level against the baseline, or one anchor against another."""
        levels = {self.treatment: self.level} if self.treatment else {}
        return Question(
            name=self.name,
            a=SetUp(anchor=self.anchor, levels=levels),
            b=SetUp(anchor=self.against or self.anchor),
            measure=self.measure,
            seabeds=() if self.seabed is None else (self.seabed,),
        )

    def candidates(self, campaign: Campaign) -> tuple[Candidate, ...]:
        """Every anchor, seabed and level of the treatment that may be pulled."""
        baselines = {one.name: one.baseline for one in campaign.treatments}

        def is_plain(candidate: Candidate) -> bool:
            others = (pair for pair in candidate.levels if pair[0] != self.treatment)
            return all(baselines[name] == level for name, level in others)

        return tuple(
            one
            for one in candidates(campaign, [self.question()])
            if is_plain(one)
            and (self.anchor is None or one.anchor in {self.anchor, self.against})
            and self.seabed in {None, one.seabed}
        )


SCENARIOS: Final = (
    Scenario(name="chain-demo", treatment="chain", level="6 mm", begins="demo", most_pulls=60),
    Scenario(
        name="leader-demo", treatment="leader", level="wire 2 m", begins="demo", most_pulls=60
    ),
    Scenario(
        name="leader-upright-demo",
        treatment="leader",
        level="wire 2 m",
        begins="demo",
        most_pulls=60,
        measure=Measure.UPRIGHT,
    ),
    Scenario(
        name="ballast-one-anchor-demo",
        treatment="tip ballast",
        level="0.4 kg",
        begins="demo",
        most_pulls=48,
        anchor="S6",
        seabed="firm sand",
    ),
    Scenario(
        name="leader-one-anchor-priors",
        treatment="leader",
        level="wire 2 m",
        begins="priors",
        most_pulls=36,
        anchor="S6",
        seabed="firm sand",
    ),
)
"""In the order in which they run; the first three are average effects, the others two arms."""

REFITTED: Final = (
    SCENARIOS[-1],
    Scenario(
        name="two-anchors-priors",
        begins="priors",
        most_pulls=24,
        anchor="S6",
        against="C7",
        seabed="firm sand",
    ),
)
"""Of which rehearsals are fitted as real campaigns: short ones, one seldom settled, one often."""


@cache
def demo_posterior() -> Posterior:
    """The fit of the invented campaign's pulls, seed 1."""
    from model.calibration.fitting import fitting_engine  # brings the sampler

    campaign = demo_campaign()
    return fitting_engine().fit(campaign, simulate_hollow_sound(campaign), SEED)


def start_of(scenario: Scenario, campaign: Campaign | None = None) -> Start:
    """Where a scenario begins, its mode seen by a camera; in the invented campaign, or another."""
    campaign, asked = campaign or demo_campaign(), [(scenario.question(), 1.0)]
    among = scenario.candidates(campaign)
    if scenario.begins == "priors":
        return start_of_priors(campaign, asked, among, has_camera=True, seed=SEED)
    pulls = simulate_hollow_sound(campaign)
    return start_of_posterior(demo_posterior(), pulls, asked, among, has_camera=True)


def policy_of(name: str, start: Start) -> Policy:
    """A way to choose among all candidates of a start."""
    if name == ROTATED:
        return Rotate(candidates=range(len(start.candidates)))
    pairs = pairs_of(start)
    if name == ALTERNATED:
        first, second = (int(index) for index in pairs[0])
        return Alternate(first=first, second=second)
    return Informative(start=start, pairs=pairs, per_hour=name == PER_HOUR)


def pairs_of(start: Start) -> NDArray[np.int64]:
    """Every pair that compares, and every candidate twice."""
    both = contrasts(start.campaign, start.main.question, start.candidates)
    twins = [(index, index) for index in range(len(start.candidates))]
    return np.array([*both, *twins], dtype=np.int64)
