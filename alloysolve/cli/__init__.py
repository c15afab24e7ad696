"""The command line, thin over the library."""

from __future__ import annotations

from .main import main

__all__ = ["main"]
