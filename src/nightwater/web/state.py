"""The state of a page, all of it in its address."""

from __future__ import annotations

from typing import Annotated, Any, ClassVar
from urllib.parse import urlencode

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field


def _none_if_empty(value: Any) -> Any:
    return None if value == "" else value


NONE_IF_EMPTY = BeforeValidator(_none_if_empty)  # a form sends an empty field as an empty text
SearchText = Annotated[str, Field(max_length=80)]


class PageState(BaseModel):
    """What a page's address says; what is at its default stays out of it."""

    model_config = ConfigDict(frozen=True)
    path: ClassVar[str]

    def address(self, **changes: Any) -> str:
        """The page's address with some of its state exchanged."""
        state = self.model_copy(update=changes).model_dump(exclude_defaults=True, mode="json")
        kept = {key: 1 if value is True else value for key, value in state.items()}
        return f"{self.path}?{urlencode(kept)}"
