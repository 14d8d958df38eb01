"""What takes long to compute is remembered until anything is entered in the logbooks it rests on."""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable
from typing import TYPE_CHECKING, Any, TypeVar

if TYPE_CHECKING:
    from asflown.app.workplace import Workplace

T = TypeVar("T")

#: Results kept at most.
MOST = 40
_kept: OrderedDict[object, Any] = OrderedDict()
_lock = threading.Lock()


def remembered(work: Workplace, name: tuple[str, ...], make: Callable[[], T]) -> T:
    """Make something of what is kept, or give it again as long as no logbook has a new entry.

    Every act that changes what is kept enters it in a logbook, so their last entries stand for all of it.

    Parameters
    ----------
    name
        Which thing: what it is, and of what.
    """
    key = (name, tuple(sorted(work.store.heads().items())))
    with _lock:
        if key in _kept:
            _kept.move_to_end(key)
            found: T = _kept[key]
            return found
    made = make()
    with _lock:
        _kept[key] = made
        while len(_kept) > MOST:
            _kept.popitem(last=False)
    return made
