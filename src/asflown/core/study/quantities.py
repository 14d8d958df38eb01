"""Every quantity evidence is made of, as data: the JSON, its schema and its page are made from this."""

from __future__ import annotations

from functools import lru_cache

from asflown.core.study.about_motors import METHODS as MOTORS_METHODS
from asflown.core.study.about_motors import QUANTITIES as MOTORS
from asflown.core.study.about_response import METHODS as RESPONSE_METHODS
from asflown.core.study.about_response import QUANTITIES as RESPONSE
from asflown.core.study.about_vibration import METHODS as VIBRATION_METHODS
from asflown.core.study.about_vibration import QUANTITIES as VIBRATION
from asflown.core.study.quantity import Method, Quantity

#: In the order they are shown.
QUANTITIES: tuple[Quantity, ...] = (*RESPONSE, *VIBRATION, *MOTORS)

#: By key.
METHODS: dict[str, Method] = {
    method.key: method for method in (*RESPONSE_METHODS, *VIBRATION_METHODS, *MOTORS_METHODS)
}


@lru_cache(maxsize=1024)
def quantity(name: str) -> Quantity:
    """The quantity of that name.

    Raises
    ------
    ValueError
        When there is none.

    Examples
    --------
    >>> quantity("axes.roll.bandwidth").unit
    'Hz'
    """
    for one in QUANTITIES:
        if one.pattern.fullmatch(name):
            return one
    raise ValueError(f"{name!r} is no quantity")
