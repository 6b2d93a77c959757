"""How long the work takes, beside the least that it could take, and how that grows with the books.

`python -m tests.benchmarks` prints the table. No test looks at a clock.
"""

import os

import django

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "studio.settings")
django.setup()
