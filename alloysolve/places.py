"""Folders of the user who runs the program."""

from __future__ import annotations

from pathlib import Path
from typing import Literal


def user_folder(of: Literal["config", "data", "cache"]) -> Path | None:
    """The user's folder for files of this program; None for a user without a home, as services may be."""
    import platformdirs

    path = {
        "config": platformdirs.user_config_path,
        "data": platformdirs.user_data_path,
        "cache": platformdirs.user_cache_path,
    }[of]
    try:
        return path("alloysolve", appauthor=False)
    except RuntimeError:  # neither HOME nor an account that names one
        return None
