"""A log file of columns, read into a table: delimited text, Parquet, Arrow. No product's binary format.

Nothing in here opens a file; see :mod:`asflown.formats.flightlog.source` for the one agreed exception.
"""

from asflown.formats.flightlog.read import LIMIT_BYTES, read_log
from asflown.formats.flightlog.source import LogSource

__all__ = ["LIMIT_BYTES", "LogSource", "read_log"]
