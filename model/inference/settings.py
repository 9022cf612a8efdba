"""How a fit samples."""

from dataclasses import asdict, dataclass
from typing import Final

MODEL_VERSION: Final = "2"
"""Raised whenever the same facts would give another posterior."""

DEFAULT_SEED: Final = 1


@dataclass(frozen=True, kw_only=True)
class Settings:
    """Chains, draws and acceptance target of the sampler.

    Parameters
    ----------
    chains, tune, draws : int
        Chains, and warm-up and kept draws of each.
    target_accept : float
        Of the first attempt.
    retry_target_accept, retry_factor : float, int
        Of the second attempt, made only where the first one failed its check:
        smaller steps, and so many times the warm-up and draws, thinned again.
    cores : int
        Chains sampled at once.
    """

    chains: int = 4
    tune: int = 500
    draws: int = 1000
    target_accept: float = 0.9
    retry_target_accept: float = 0.99
    retry_factor: int = 2
    cores: int = 2

    def canonical(self) -> dict[str, float | int | str]:
        """What of the settings shapes the draws, for a posterior's identity."""
        found: dict[str, float | int | str] = asdict(self)
        return {name: value for name, value in found.items() if name != "cores"}


DEFAULT_SETTINGS: Final = Settings()
