"""The kinds of values people write in hand-written files, as pydantic models read them."""

from __future__ import annotations

from decimal import Decimal
from typing import Annotated

from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict, Field


def _as_list(value: object) -> object:
    return value if isinstance(value, list) else [value]


def as_text(value: object) -> object:
    """A value written without quotes is taken as the text it is."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int) and value.bit_length() > 200:
        raise ValueError("a number of at most 60 digits is wanted")
    return str(value) if isinstance(value, int | Decimal) else value


def _as_texts(value: object) -> object:
    return {str(k): as_text(v) for k, v in value.items()} if isinstance(value, dict) else value


def _sensible(value: Decimal) -> Decimal:
    """Refuse numbers whose plain notation would fill pages."""
    if value and (abs(value.adjusted()) > 30 or len(value.as_tuple().digits) > 60):
        raise ValueError("a number between 1e-30 and 1e30 with at most 60 digits is wanted")
    return value


_Scalar = str | int | float | bool
OneName = Annotated[str, Field(min_length=1, max_length=200)]
Text = Annotated[str, BeforeValidator(as_text, json_schema_input_type=_Scalar)]
Texts = Annotated[dict[str, str], BeforeValidator(_as_texts, json_schema_input_type=dict[str, _Scalar])]
Names = Annotated[list[OneName], BeforeValidator(_as_list, json_schema_input_type=OneName | list[OneName])]
TextList = Annotated[list[Text], BeforeValidator(_as_list, json_schema_input_type=_Scalar | list[_Scalar])]
Finite = Annotated[Decimal, Field(allow_inf_nan=False), AfterValidator(_sensible)]
Flag = Annotated[bool, Field(strict=True)]
Volts = Annotated[float, Field(ge=0.8, le=60)]
#: Whole numbers every JSON reader keeps exactly (RFC 8259, 6).
Whole = Annotated[int, Field(strict=True, le=2**53 - 1)]


class Written(BaseModel):
    """A table people write: no key it does not know."""

    model_config = ConfigDict(extra="forbid", frozen=True, arbitrary_types_allowed=False)
