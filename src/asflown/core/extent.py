"""Whether a listing shows every setting or only those that differ from factory, judged from a catalog."""

from __future__ import annotations

from asflown.core.catalog import Catalog
from asflown.core.record import Extent, Key, Setting
from asflown.core.values import same_value

#: From this share of the known settings on a listing is taken as full, if some stand at factory.
FULL_FROM = 0.95
#: Up to this share it is taken as changes-only, if none stands at factory.
CHANGES_UP_TO = 0.80


def judge_extent(settings: tuple[Setting, ...], catalog: Catalog) -> tuple[Extent, str]:
    """Compare a listing with the settings its release has and their factory values.

    Returns
    -------
    tuple of (Extent, str)
        The judgement and the numbers it rests on, in one sentence. UNKNOWN when they do not agree.
    """
    known = tuple(setting.key for setting in catalog.factory) or catalog.keys
    if not known:
        return Extent.UNKNOWN, "the release states no settings to compare with"
    names = {(key.name, key.index) for key in known}
    shown = {(s.key.name, s.key.index) for s in settings}
    share = len(names & shown) / len(names)
    at_factory = sum(_is_factory(catalog, setting) for setting in settings)
    says = (
        f"shows {len(names & shown)} of the {len(names)} settings the release has;"
        f" {at_factory} of {len(settings)} stand at their factory value"
    )
    if share >= FULL_FROM and at_factory:
        return Extent.FULL, says
    if share <= CHANGES_UP_TO and not at_factory and settings:
        return Extent.CHANGES_ONLY, says
    return Extent.UNKNOWN, says


def _is_factory(catalog: Catalog, setting: Setting) -> bool:
    factory = catalog.factory_value(setting.key)
    if factory is None:
        factory = catalog.factory_value(Key(setting.key.name, None, setting.key.index))
    return factory is not None and same_value(setting.value, factory, catalog.by_name.get(setting.key.name))
