"""No test reads or writes the records of whoever runs it."""

from __future__ import annotations

import os
import tempfile

os.environ["FORERUN_DATA"] = tempfile.mkdtemp(prefix="forerun-tests-")
