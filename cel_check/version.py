"""The program's own name and version, as reports and the ledger record them."""

NAME = "cel-check"
VERSION = "0.1.0"
"""Told once, here: the build reads it too, so that a bare checkout knows it as well as an installed copy."""
