"""``python -m sealwright``: the same as the command."""

from __future__ import annotations

import sys

from .jobs.supervise import main

if __name__ == "__main__":
    sys.exit(main())
