"""What every part of a scenario has in common."""

from __future__ import annotations

from typing import Annotated

from pydantic import BaseModel, ConfigDict, Field

Name = Annotated[str, Field(min_length=1, max_length=60, pattern=r"^[^\x00-\x1f]+$")]
Positive = Annotated[int, Field(strict=True, ge=1)]


class Part(BaseModel):
    """Common rules: values never change after reading, and an unknown key is an error."""

    model_config = ConfigDict(frozen=True, extra="forbid", use_attribute_docstrings=True)
