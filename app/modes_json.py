"""How set-ups set, and how each bite did, as the object that ``--json`` prints."""

from app.answer_json import Json, plain
from model.questions.bite_modes import BiteModes
from model.questions.mode_sentences import bite_words, variation_words
from model.questions.setting_modes import Place, SetUpModes
from model.service.modes import Modes


def modes_json(found: Modes) -> Json:
    """``setups`` and ``pulls``, one entry a set-up and one a bite, and the posterior."""
    return {
        "setups": [_set_up(one) for one in found.set_ups],
        "pulls": [_bite(one) for one in found.bites],
        "posterior": found.posterior.model_dump(mode="json"),
    }


def _place(place: Place) -> Json:
    return {"anchor": place.anchor, "seabed": place.seabed, "levels": dict(place.levels)}


def _set_up(one: SetUpModes) -> Json:
    pulls = one.pulls
    return {
        **_place(one.place),
        "scope": one.scope,
        "is_predicted": one.is_predicted,
        "pulls": {
            "count": pulls.count,
            "seen_upright": pulls.upright,
            "seen_on_side": pulls.on_side,
            "not_seen": pulls.not_seen,
            "never_set": pulls.never_set,
        },
        "p_sets": plain(one.p_sets),
        "p_upright": plain(one.p_upright),
        "p_resets": plain(one.p_resets),
        "load_upright": plain(one.load_upright),
        "load_on_side": plain(one.load_on_side),
        "whole_pull": None if one.whole is None else plain(one.whole),
        # Of pulls that let go; p_resets is before it must stand the thrust that is on.
        "p_resets_of_releases": None if one.whole is None else one.whole.p_resets,
        "words": variation_words(one),
    }


def _bite(one: BiteModes) -> Json:
    return {
        "pull": one.pull,
        "bite": one.bite,
        **_place(one.place),
        "ending": one.ending.value,
        "seen": None if one.seen is None else one.seen.value,
        "p_upright": one.p_upright,
        "is_at_odds": one.is_at_odds,
        # Chance once each part is known, and what each added to it.
        "p_after": {step.part: step.p_upright for step in one.steps},
        "moved_by": one.moved_by,
        "words": bite_words(one),
    }
