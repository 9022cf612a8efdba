"""How a fit samples."""

from dataclasses import asdict, dataclass
from typing import Final

MODEL_VERSION: Final = "5"
"""Raised whenever the same facts would give another posterior, or its draws another answer.

Kept answers go by the posterior's identity, which this is part of.
"""

DEFAULT_SEED: Final = 1


@dataclass(frozen=True, kw_only=True)
class Settings:
    """Chains, draws and acceptance target of the sampler.

    Parameters
    ----------
    chains, tune, draws : int
        Chains, and warm-up and kept draws of each.
    targets : tuple of float
        Acceptance targets: of the first attempt, and of those after divergences or
        with longer chains, at smaller steps. Where every pull held, the posterior is a
        plain with a wall: steps that suit the plain run into it, and at 0.99 still
        did now and then.
    lengths : tuple of int
        Multiples of ``draws``, thinned again, of the first attempt and of those after
        too few effective draws or chains that disagree.
    max_depth : int
        Doublings of a trajectory at the first target, and one more at each
        smaller target. Within 63 steps a demo fit had 0.40 to 0.50 effective
        draws a draw; without this bound, in 78 to 95 steps, 0.42 to 0.55
        (measured before the whitening).
    cores : int
        Chains sampled at once.
    """

    chains: int = 4
    tune: int = 200
    draws: int = 700
    targets: tuple[float, ...] = (0.95, 0.98, 0.99, 0.998)
    lengths: tuple[int, ...] = (1, 3, 9)
    max_depth: int = 6
    cores: int = 2

    def canonical(self) -> dict[str, object]:
        """What of the settings shapes the draws, for a posterior's identity."""
        found: dict[str, object] = asdict(self)
        return {name: value for name, value in found.items() if name != "cores"}


DEFAULT_SETTINGS: Final = Settings()
