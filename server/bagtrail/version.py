"""The version of this package, as installed."""

from importlib.metadata import PackageNotFoundError, version

try:
    VERSION = version("bagtrail")
except PackageNotFoundError:  # run from the source folder
    VERSION = "0.0.0+source"

# Clients older than this ask to be updated; they go on pushing all the same.
MIN_APP = "0.1.0"
