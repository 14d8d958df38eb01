"""Building blocks on signals: windows, spectra, averages, filters, Allan deviation. Arrays in, frozen results out."""
