"""The base of every value that is stored or sent: strict, closed and frozen.

Strict means that a wrong type is refused and never bent into shape; closed means that an unknown field is
refused; frozen means that a value, once made, can be shared without fear.
"""

from pydantic import BaseModel, ConfigDict


class Record(BaseModel):
    """A frozen value with a closed set of typed fields."""

    model_config = ConfigDict(strict=True, extra="forbid", frozen=True)
