"""``python -m alloysolve``."""

from .cli import main

main()
