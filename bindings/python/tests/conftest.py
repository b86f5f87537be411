"""Doctests leave out what differs from run to run."""

pytest_plugins = ["pytester"]
