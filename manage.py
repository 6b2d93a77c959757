#!/usr/bin/env python3
"""Meniscus from the command line: `manage.py help` lists the commands."""

import os
import sys


def main() -> None:
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
