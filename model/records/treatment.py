"""What is changed on purpose: treatments, their levels, and which of them interact."""

from collections import Counter
from collections.abc import Mapping, Sequence
from itertools import product
from typing import Annotated, Final, Self

from pydantic import AfterValidator, Field, model_validator

from model.base.names import AND_ALSO, NOT_BASELINE, treatment_level_name
from model.records.base import Name, Record

SETUP_KEYS: Final = ("anchor", "scope")
"""Words that a set-up's text uses itself, so that no treatment may be called so."""


def _check_key(name: str) -> str:
    # Texts write `leader=wire 2 m` and `marker under=yes|shank out=no`.
    if NOT_BASELINE in name or "|" in name or "," in name:
        raise ValueError("a name of a treatment or sign must not hold '=', '|' or ','")
    return name


def _check_treatment(name: str) -> str:
    if name.casefold() in SETUP_KEYS:
        raise ValueError(f"a treatment must not be called {name!r}: set-ups use that word")
    return name


KeyName = Annotated[Name, AfterValidator(_check_key)]
TreatmentName = Annotated[KeyName, AfterValidator(_check_treatment)]


class Treatment(Record):
    """Something changed on purpose; every other level is compared with the baseline."""

    name: TreatmentName
    baseline: Name
    levels: tuple[Name, ...] = Field(min_length=1)

    @model_validator(mode="after")
    def _check(self) -> Self:
        if self.baseline not in self.levels:
            raise ValueError(f"the baseline {self.baseline!r} is not among the levels")
        if len(set(self.levels)) < len(self.levels):
            raise ValueError("a level is listed twice")
        return self

    @property
    def changed_levels(self) -> tuple[str, ...]:
        """Levels other than the baseline, in the campaign's order."""
        return tuple(level for level in self.levels if level != self.baseline)


Interaction = tuple[Name, Name]
"""Two treatments whose effects need not add up where both are changed."""


def level_names(
    treatments: Sequence[Treatment], interactions: Sequence[Interaction]
) -> tuple[str, ...]:
    """Every level but the baselines, then every pair of them that may interact."""
    of_each = {
        treatment.name: [
            treatment_level_name(treatment.name, level) for level in treatment.changed_levels
        ]
        for treatment in treatments
    }
    single = [name for names in of_each.values() for name in names]
    pairs = [pair for one, other in interactions for pair in product(of_each[one], of_each[other])]
    return (*single, *(AND_ALSO.join(pair) for pair in pairs))


def levels_on(interactions: Sequence[Interaction], levels: Mapping[str, str]) -> frozenset[str]:
    """Names of :func:`level_names` that are on; baselines, which it has not, may be among them."""
    single = {name: treatment_level_name(name, level) for name, level in levels.items()}
    pairs = [
        AND_ALSO.join((single[one], single[other]))
        for one, other in interactions
        if one in single and other in single
    ]
    return frozenset([*single.values(), *pairs])


def interaction_faults(
    treatments: Sequence[Treatment], interactions: Sequence[Interaction]
) -> list[str]:
    """What is wrong with the interactions that a campaign names."""
    known = {treatment.name for treatment in treatments}
    found = [
        f"an interaction names an unknown treatment {name!r}"
        for pair in interactions
        for name in pair
        if name not in known
    ]
    found += [
        f"treatment {one!r} is said to interact with itself"
        for one, other in interactions
        if one == other
    ]
    pairs = [frozenset(pair) for pair in interactions]
    found += [
        f"the interaction of {one!r} and {other!r} stands twice"
        for i, (one, other) in enumerate(interactions)
        if frozenset((one, other)) in pairs[:i]
    ]
    if found:
        return found
    return [
        f"a level is called like the interaction {name!r}: give it another name"
        for name, count in Counter(level_names(treatments, interactions)).items()
        if count > 1
    ]
