"""The new release's gains and filters that keep the old answer."""
