"""The strict frozen base of every record, and what a name may be."""

from typing import Annotated, Final

from pydantic import BaseModel, ConfigDict, Field

NAME_PATTERN: Final = r"^[^\s\x00-\x1f\x7f]([^\x00-\x1f\x7f]*[^\s\x00-\x1f\x7f])?$"
"""No outer spaces and no control characters: two names that look alike are alike."""

LONGEST_NAME: Final = 120
"""Most characters of a name."""

Name = Annotated[str, Field(min_length=1, max_length=LONGEST_NAME, pattern=NAME_PATTERN)]


class Record(BaseModel):
    """A frozen record: unknown fields, infinities and NaN are refused."""

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)
