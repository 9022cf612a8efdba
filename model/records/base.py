"""The strict frozen base of every record, and what a name may be."""

from typing import Annotated, Final

from pydantic import BaseModel, ConfigDict, Field

NAME_PATTERN: Final = r"^[^\s\x00-\x1f\x7f]([^\x00-\x1f\x7f]*[^\s\x00-\x1f\x7f])?$"
"""No outer spaces and no control characters: two names that look alike are alike."""

Name = Annotated[str, Field(min_length=1, max_length=120, pattern=NAME_PATTERN)]


class Record(BaseModel):
    """A frozen record: unknown fields, infinities and NaN are refused."""

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)
