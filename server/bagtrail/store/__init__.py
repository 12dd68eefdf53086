"""The database: the log, its head, devices and cached state. Only peewee here and in migrations."""

from .cache import CacheRows
from .copies import CopyRows
from .database import BROKEN, open_database
from .devices import DeviceRows
from .log import ZERO_HASH, LogRows, new_epoch
from .rows import Stored, Top


class Store(LogRows, DeviceRows, CacheRows, CopyRows):
    """One open database. Methods that read need ``reading()`` or ``writing()`` around them."""


__all__ = ["BROKEN", "ZERO_HASH", "Store", "Stored", "Top", "new_epoch", "open_database"]
