"""What makes another posterior, and what does not."""

import json

import pytest

from model.base.priors import Normal, Priors
from model.inference import identity
from model.inference.identity import facts_fingerprint, wanted_fingerprint
from model.inference.settings import Settings
from model.records.pull import Bite, Ending


def _swap(pulls, index, **changes):
    changed = pulls[index].model_copy(update=changes)
    return (*pulls[:index], changed, *pulls[index + 1 :])


def _with_load(pulls, load_kn):
    bite = pulls[0].bites[0].model_copy(update={"load_kn": load_kn})
    return _swap(pulls, 0, bites=(bite,))


def test_an_identity_is_sixteen_hexadecimal_digits(small_campaign, small_pulls):
    found = wanted_fingerprint(small_campaign, small_pulls)
    assert len(found) == 16
    assert int(found, 16) > 0


def test_the_order_of_pulls_is_no_fact(small_campaign, small_pulls):
    assert facts_fingerprint(small_campaign, small_pulls[::-1]) == facts_fingerprint(
        small_campaign, small_pulls
    )


@pytest.mark.parametrize(
    "changes",
    [
        {"notes": "sea getting up"},
        {"video": "https://example.invalid/clip?t=61"},
        {"wind": "SW 4"},
        {"extras": {"crew": "two"}},
        {"soak_min": 30.0},
    ],
    ids=lambda changes: next(iter(changes)),
)
def test_what_a_fit_does_not_use_changes_nothing(changes, small_campaign, small_pulls):
    assert facts_fingerprint(small_campaign, _swap(small_pulls, 0, **changes)) == (
        facts_fingerprint(small_campaign, small_pulls)
    )


def test_void_pulls_are_no_facts(small_campaign, small_pulls):
    used = tuple(pull for pull in small_pulls if not pull.is_void)
    assert len(used) == len(small_pulls) - 1
    assert facts_fingerprint(small_campaign, used) == facts_fingerprint(small_campaign, small_pulls)


def test_questions_and_the_campaigns_name_are_no_facts(small_campaign, small_pulls):
    other = small_campaign.model_copy(
        update={"name": "Renamed", "questions": (), "main_question": None}
    )
    assert facts_fingerprint(other, small_pulls) == facts_fingerprint(small_campaign, small_pulls)


def test_a_baseline_written_out_is_a_baseline_left_out(small_campaign, small_pulls):
    assert small_pulls[0].levels == {"leader": "chain only", "chain": "8 mm"}
    assert facts_fingerprint(small_campaign, _swap(small_pulls, 0, levels={})) == (
        facts_fingerprint(small_campaign, small_pulls)
    )


def _facts(pulls):
    upright = pulls[0].bites[0].model_copy(update={"mode": "upright"})
    held = Bite(number=1, ending=Ending.HELD, load_kn=4.6, held_s=60.0)
    longer = held.model_copy(update={"held_s": 120.0})
    return {
        "a load": _with_load(pulls, 3.2),
        "a level": _swap(pulls, 0, levels={"leader": "wire 2 m"}),
        "a mode": _swap(pulls, 0, bites=(upright,)),
        "an ending": _swap(pulls, 0, bites=(held,)),
        "a hold": _swap(pulls, 0, bites=(longer,)),
        "an anchor": _swap(pulls, 0, anchor="P9"),
        "a seabed": _swap(pulls, 0, seabed="soft mud"),
        "a site": _swap(pulls, 0, site="south"),
        "an outing": _swap(pulls, 0, outing="day 2", code="9"),
        "a scope": _swap(pulls, 0, scope=7.0),
        "a pull more": (*pulls, pulls[0].model_copy(update={"code": "99"})),
        "a pull fewer": pulls[1:],
    }


def test_every_fact_that_a_fit_uses_makes_another(small_campaign, small_pulls):
    changed = _facts(small_pulls)
    found = {name: facts_fingerprint(small_campaign, pulls) for name, pulls in changed.items()}
    found["as it is"] = facts_fingerprint(small_campaign, small_pulls)
    assert len(set(found.values())) == len(found)


@pytest.mark.parametrize("part", ["mass", "seabed class", "top step", "calibration"])
def test_facts_of_the_campaign_make_another(part, small_campaign, small_pulls):
    anchors, seabeds = small_campaign.anchors, small_campaign.seabeds
    [ladder], [boat] = small_campaign.ladders, small_campaign.boats
    steps = (*ladder.steps[:-1], ladder.steps[-1].model_copy(update={"dwell_s": 20.0}))
    changes = {
        "mass": {"anchors": (anchors[0].model_copy(update={"mass_kg": 6.5}), anchors[1])},
        "seabed class": {
            "seabeds": (seabeds[0].model_copy(update={"seabed_class": "gravel"}), seabeds[1])
        },
        "top step": {"ladders": (ladder.model_copy(update={"steps": steps}),)},
        "calibration": {"boats": (boat.model_copy(update={"calibration_error": 0.1}),)},
    }
    other = small_campaign.model_copy(update=changes[part])
    assert facts_fingerprint(other, small_pulls) != facts_fingerprint(small_campaign, small_pulls)


def test_priors_settings_seed_and_model_make_another(small_campaign, small_pulls, monkeypatch):
    def wanted(**more):
        return wanted_fingerprint(small_campaign, small_pulls, **more)

    found = [
        wanted(),
        wanted(priors=Priors(treatment_load=Normal(mean=0.0, sd=0.2))),
        wanted(settings=Settings(draws=2000)),
        wanted(settings=Settings(targets=(0.95, 0.99))),
        wanted(settings=Settings(lengths=(1, 4))),
        wanted(seed=2),
    ]
    monkeypatch.setattr(identity, "MODEL_VERSION", "another")
    found.append(wanted())
    assert len(set(found)) == len(found)


def test_how_many_cores_sample_is_no_part_of_it(small_campaign, small_pulls):
    one, four = (
        wanted_fingerprint(small_campaign, small_pulls, settings=Settings(cores=cores))
        for cores in (1, 4)
    )
    assert one == four
    assert "cores" not in Settings().canonical()


def test_an_identity_outlives_a_round_trip_of_the_priors(small_campaign, small_pulls):
    """Priors are stored as JSON beside a posterior: what is read back must hash the same."""
    text = json.dumps(Priors().canonical(), sort_keys=True)
    assert json.dumps(json.loads(text), sort_keys=True) == text
