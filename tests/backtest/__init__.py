"""What reorder levels would have achieved: `python -m tests.backtest` plays years of use against them.

The suite plays a small round; the table of the full one stands in tests/README.md.
"""

import os

import django

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "studio.settings")
django.setup()
