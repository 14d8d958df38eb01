"""Building blocks on signals: windows, spectra, averages, filters, Allan deviation; arrays in, results out."""
