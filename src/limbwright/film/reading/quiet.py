"""Remarks of foreign libraries, caught so that they reach the reader as findings and never a terminal."""

import logging
import threading
import warnings
from collections.abc import Iterator
from contextlib import contextmanager

_ONE_AT_A_TIME = threading.RLock()
_LOGGERS = ("pydicom", "PIL", "tifffile", "openjpeg", "jpeg_ls", "pylibjpeg")


class _Collector(logging.Handler):
    def __init__(self, remarks: list[str]) -> None:
        super().__init__(level=logging.WARNING)
        self.remarks = remarks

    def emit(self, record: logging.LogRecord) -> None:
        self.remarks.append(record.getMessage())


@contextmanager
def heard() -> Iterator[list[str]]:
    """Collect what libraries warn or log while the block runs; nothing is printed, nothing raised.

    Python's warning filters belong to the process, so blocks of different threads take turns.
    """
    remarks: list[str] = []
    collector = _Collector(remarks)
    with _ONE_AT_A_TIME, warnings.catch_warnings(record=True) as caught:
        warnings.simplefilter("always")
        loggers = [logging.getLogger(name) for name in _LOGGERS]
        before = [logger.propagate for logger in loggers]
        for logger in loggers:
            logger.addHandler(collector)
            logger.propagate = False
        try:
            yield remarks
        finally:
            for logger, propagate in zip(loggers, before, strict=True):
                logger.removeHandler(collector)
                logger.propagate = propagate
            remarks.extend(str(warning.message) for warning in caught)
            remarks[:] = dict.fromkeys(remarks)
