"""What is known of a release's settings: its catalog, and what boards showed."""

from __future__ import annotations

from asflown.app import kept
from asflown.app.needs import Store
from asflown.core.catalog import Catalog
from asflown.core.record import Extent, Record


def catalog_of(store: Store, release: str | None, *, but: str | None = None) -> Catalog | None:
    """What is known of a release's settings: its catalog, with factory values a board showed.

    Parameters
    ----------
    but
        A record that must not be its own witness.
    """
    if release is None:
        return None
    found = kept.release_with_document(store, release)
    catalog = found[0].catalog if found else None
    for factory in kept.factory_records(store, release):
        if factory.id != but:
            return with_factory(catalog, factory)
    return catalog


def with_factory(catalog: Catalog | None, factory: Record) -> Catalog:
    """A catalog with the factory values a record shows; one learned from it where there was none."""
    from asflown.formats import catalog_factory

    learned = catalog_factory.learn_settings(factory.settings)
    if catalog is None:
        return learned
    if factory.extent is Extent.CHANGES_ONLY:
        return catalog
    return catalog_factory.with_factory(catalog, learned)
