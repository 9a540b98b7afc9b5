"""What all answers have in common, whatever they answer."""

from typing import Any, Self

from pydantic import BaseModel, ConfigDict


class Answer(BaseModel):
    """What all answers have in common: they do not change, and nothing is in them that is not described."""

    model_config = ConfigDict(frozen=True, extra="forbid", defer_build=True)

    def varied(self, changes: dict[str, Any]) -> Self:
        """A copy with some fields changed, without looking at them: `model_copy` for answers made by the thousand, which have no more than fields."""
        copy = self.__class__.__new__(self.__class__)
        object.__setattr__(copy, "__dict__", self.__dict__ | changes)
        object.__setattr__(copy, "__pydantic_fields_set__", self.__pydantic_fields_set__)
        object.__setattr__(copy, "__pydantic_extra__", None)
        object.__setattr__(copy, "__pydantic_private__", None)
        return copy
