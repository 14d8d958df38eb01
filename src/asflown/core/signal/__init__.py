"""Building blocks on signals: windows, spectra, averages, filters, Allan deviation."""
