"""The identity of a posterior: a hash of everything that shapes its draws.

Two stores with the same pulls in another order, or with other notes and
videos, want the same posterior; any fact that a fit uses makes another, and so
does another order of the campaign's own lists (anchors, seabeds, outings).
"""

import hashlib
import json
from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from model.arrays.campaign_arrays import campaign_facts
from model.base.priors import DEFAULT_PRIORS, Priors
from model.inference.settings import DEFAULT_SEED, DEFAULT_SETTINGS, MODEL_VERSION, Settings
from model.records.campaign import Campaign
from model.records.pull import Pull


def facts_fingerprint(campaign: Campaign, pulls: Sequence[Pull]) -> str:
    """Hash of the facts that a fit uses, whatever the order of the pulls."""
    facts = campaign_facts(campaign, pulls)
    values = {name: variable[1] for name, variable in facts.variables.items()} | facts.coords
    digest = hashlib.sha256()
    for name in sorted(values):
        digest.update(name.encode())
        digest.update(_content(np.asarray(values[name])))
    digest.update(repr(facts.usual_scope).encode())
    return digest.hexdigest()


def _content(values: NDArray[Any]) -> bytes:
    if values.dtype.kind in "fi":
        return values.tobytes()
    return json.dumps([str(value) for value in values.ravel()]).encode()


def wanted_fingerprint(
    campaign: Campaign,
    pulls: Sequence[Pull],
    *,
    priors: Priors = DEFAULT_PRIORS,
    settings: Settings = DEFAULT_SETTINGS,
    seed: int = DEFAULT_SEED,
) -> str:
    """Identity of the posterior that these facts want, 16 hexadecimal digits."""
    parts = {
        "facts": facts_fingerprint(campaign, pulls),
        "model": MODEL_VERSION,
        "priors": priors.canonical(),
        "settings": settings.canonical(),
        "seed": seed,
    }
    text = json.dumps(parts, sort_keys=True, default=str)
    return hashlib.sha256(text.encode()).hexdigest()[:16]
