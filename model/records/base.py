"""The strict frozen base of every record."""

from pydantic import BaseModel, ConfigDict


class Record(BaseModel):
    """A frozen record: unknown fields, infinities and NaN are refused."""

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)
