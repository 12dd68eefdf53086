"""The version of this package, as installed."""

from importlib.metadata import PackageNotFoundError, version

try:
    VERSION = version("bagtrail")
except PackageNotFoundError:  # run from the source folder
    VERSION = "0.0.0+source"
