"""The validator of a case, shared by the reader of documents and the writer of the schema."""

from functools import cache
from typing import TYPE_CHECKING

from limbwright.case.case import Case

if TYPE_CHECKING:
    from pydantic import TypeAdapter


@cache
def case_type() -> "TypeAdapter[Case]":
    """The validator of a case; built once, because building it takes longer than reading a file."""
    from pydantic import TypeAdapter

    return TypeAdapter(Case)
