"""Runs the command line as ``python -m alloysolve``."""

from .cli import main

main()
