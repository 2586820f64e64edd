"""The command line in one process: options, the command, its exit code.

The installed command runs it in a process of its own, see `supervise`.
"""

from __future__ import annotations

import sys
from collections.abc import Sequence

from .border import guarded
from .options import CAUTION, parsed


def main(argv: Sequence[str] | None = None) -> int:
    """Run a command and give its exit code."""
    arguments = parsed(argv)

    def run() -> int:
        """The command itself."""
        from .commands import COMMANDS  # large libraries are loaded only now

        return COMMANDS[arguments.command](arguments)

    return guarded(run, arguments)


if __name__ == "__main__":
    sys.exit(main())

__all__ = ["CAUTION", "main"]
