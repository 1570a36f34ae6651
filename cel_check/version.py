"""The program's own name and version, as reports and the ledger record them."""

from importlib.metadata import PackageNotFoundError, version

NAME = "cel-check"


def program_version() -> str:
    """Return the installed version, or `0+unknown` when run from a bare folder."""
    try:
        return version(NAME)
    except PackageNotFoundError:
        return "0+unknown"
