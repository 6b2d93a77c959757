#!/usr/bin/env python3
"""Meniscus from the command line: `manage.py help` lists the commands."""

import gc
import os
import sys


def main() -> None:
    # Start-up makes hundreds of thousands of objects that stay. Looked through every 700, as is usual, they take an
    # eighth of it; every 5,000, half of that.
    gc.set_threshold(5_000)
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "studio.settings")
    from django.core.management import execute_from_command_line

    try:
        execute_from_command_line(sys.argv)
    except Exception as problem:
        from studio.operations.outages import in_words, reason

        found = reason(problem)
        if found is None or "--traceback" in sys.argv:
            raise
        sys.exit(f"{in_words(found, sent=False)}\n{str(problem).strip()}")


if __name__ == "__main__":
    main()
