"""How many of each dim the parameters have."""

import pytest

from model.outcomes.shape import Shape
from model.outcomes.variates import RATES, SCALES, VARIATES, scale_positions, sizes
from model.records.campaign import Anchor, Outing, Seabed, Site


def _with(campaign, **added):
    return campaign.model_copy(
        update={name: getattr(campaign, name) + tuple(more) for name, more in added.items()}
    )


def _days(count):
    return [Outing(name=f"day {3 + i}", ladder="steps", boat="workboat") for i in range(count)]


@pytest.mark.parametrize(
    ("name", "more"),
    [
        ("outings", _days(3)),
        ("anchors", [Anchor(code="W8", mass_kg=8.0)]),
        ("sites", [Site(name="east"), Site(name="west")]),
        ("seabeds", [Seabed(name="shingle", seabed_class="gravel")]),
    ],
)
def test_what_is_added_has_a_place_of_its_own(name, more, small_campaign):
    before, after = Shape.of(small_campaign), Shape.of(_with(small_campaign, **{name: more}))
    dim = name.removesuffix("s")
    assert getattr(after, dim) == getattr(before, dim) + len(more)


def test_the_unnamed_site_and_gauge_have_one_too(small_campaign):
    shape = Shape.of(small_campaign)
    assert shape.site == len(small_campaign.sites) + 1
    assert shape.gauge == len(small_campaign.gauges) + 1


def test_sizes_are_in_the_order_of_the_parameters_dims(small_campaign):
    shape = Shape.of(small_campaign)
    assert shape.sizes("anchor_seabed_load") == (shape.anchor, shape.seabed)
    assert shape.sizes("treatment_anchor_load") == (2, shape.anchor)
    assert (shape.sizes("load_base"), shape.sizes("log_scatter")) == ((), (2,))


def test_each_deviation_stands_beside_its_own_scale(small_campaign):
    shape = Shape.of(small_campaign)
    names = [name for name, size in zip(VARIATES, sizes(shape), strict=True) for _ in range(size)]
    labels = [*SCALES, ""]
    for name, position in zip(names, scale_positions(shape), strict=True):
        assert labels[position] in {f"{name}_scale", ""}
        assert (labels[position] == "") == (f"{name}_scale" not in SCALES)
    assert len({*VARIATES, *SCALES, *RATES}) == len(VARIATES) + len(SCALES) + len(RATES)
