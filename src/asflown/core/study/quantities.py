"""Every quantity evidence is made of, as data: the JSON, its schema and its page are made from this."""

from __future__ import annotations

from functools import lru_cache

from asflown.core.study import (
    about_ground,
    about_limit_cycle,
    about_motors,
    about_power,
    about_response,
    about_vibration,
)
from asflown.core.study.quantity import Method, Quantity

_ABOUT = (about_response, about_vibration, about_limit_cycle, about_motors, about_power, about_ground)

#: In the order they are shown.
QUANTITIES: tuple[Quantity, ...] = tuple(one for about in _ABOUT for one in about.QUANTITIES)

#: By key.
METHODS: dict[str, Method] = {method.key: method for about in _ABOUT for method in about.METHODS}


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
