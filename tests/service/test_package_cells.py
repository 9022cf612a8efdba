"""What is wrong with a package is told in words, and no library's."""

import pytest
from pydantic import BaseModel, ConfigDict, ValidationError

from model.service.package_cells import fault_words, require_columns, truth


class Known(BaseModel):
    model_config = ConfigDict(extra="forbid")
    boats: tuple[str, ...] = ()


def error_of(plain):
    with pytest.raises(ValidationError) as raised:
        Known.model_validate(plain)
    return raised.value


@pytest.mark.parametrize(
    ("error", "said"),
    [
        (KeyError("kept_revision"), "it lacks 'kept_revision'"),
        (RecursionError("maximum"), "it is nested deeper than can be read"),
        (ValueError("no campaign 3"), "no campaign 3"),
        (TypeError(), "it is not as this program writes one"),
    ],
)
def test_each_kind_of_fault_has_its_words(error, said):
    assert fault_words(error) == said


def test_a_validators_own_words_stay_out():
    newer = fault_words(error_of({"winches": 1}))
    assert newer == "it has 'winches', of which this version knows nothing: of a newer one?"
    wrong = fault_words(error_of({"boats": 3}))
    assert wrong.startswith("boats: ")
    assert "pydantic" not in newer + wrong
    assert "\n" not in newer + wrong


def test_truth_is_a_word_in_any_case_and_no_guess():
    cells = {"yes": "TRUE", "no": " False ", "odd": "maybe", "none": ""}
    assert truth(cells, "yes") is True
    assert truth(cells, "no") is False
    for column in ("odd", "none"):
        with pytest.raises(ValueError, match=f"{column} is .* neither true nor false"):
            truth(cells, column)


def test_every_missing_column_is_named():
    require_columns(["a", "b"], ["b"], "pulls.csv")
    with pytest.raises(ValueError, match=r"pulls.csv has no column a, c"):
        require_columns(["b"], ["a", "b", "c"], "pulls.csv")
