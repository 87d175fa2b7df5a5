"""Where this user's own things are kept: runs, passports, fitted pairs."""

from __future__ import annotations

import os
from pathlib import Path

__all__ = ["FOLDER_VARIABLE", "user_folder"]

FOLDER_VARIABLE = "FORERUN_DATA"


def user_folder() -> Path:
    """Return the folder of this user's records: ``FORERUN_DATA``, or the usual place."""
    chosen = os.environ.get(FOLDER_VARIABLE, "")
    if chosen:
        return Path(chosen)
    from platformdirs import user_data_path  # noqa: PLC0415 -- only without a folder of one's own

    return user_data_path("forerun", appauthor=False)
