"""The base class of every value that we store or send: strict, closed and frozen.

Strict: a wrong type is an error, never converted. Closed: an unknown field is an error. Frozen: nobody can change a
value, so all may share it.
"""

from pydantic import BaseModel, ConfigDict


class Record(BaseModel):
    """A frozen value with a closed set of typed fields."""

    model_config = ConfigDict(strict=True, extra="forbid", frozen=True)
