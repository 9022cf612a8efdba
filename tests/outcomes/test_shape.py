"""What a compiled graph depends on, and what it does not."""

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


def test_more_outings_anchors_and_sites_fit_the_same_shape(small_campaign):
    before = Shape.of(small_campaign)
    assert Shape.of(_with(small_campaign, outings=_days(2))) == before
    one_anchor = small_campaign.model_copy(update={"anchors": small_campaign.anchors[:1]})
    assert Shape.of(one_anchor) == before
    assert Shape.of(_with(small_campaign, sites=[Site(name="east")])) == before


@pytest.mark.parametrize(
    ("name", "more"),
    [
        ("outings", _days(3)),
        ("anchors", [Anchor(code="W8", mass_kg=8.0)]),
        ("sites", [Site(name="east"), Site(name="west")]),
        ("seabeds", [Seabed(name="shingle", seabed_class="gravel")]),
    ],
)
def test_beyond_the_slots_it_is_another_shape(name, more, small_campaign):
    before, after = Shape.of(small_campaign), Shape.of(_with(small_campaign, **{name: more}))
    assert after != before
    dim = name.removesuffix("s")
    assert getattr(after, dim) > getattr(before, dim)


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
