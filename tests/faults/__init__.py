"""Can the books be broken? Many writers at once, kill -9 while posting, full disks, wrong clocks, mail that is lost.

Everything here runs on databases of its own, made and removed by the run, with every worker in a process of its
own. `python -m tests.faults` runs the full rounds.
"""

import os

import django

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "studio.settings")
django.setup()  # whichever process comes here first: pytest has done it already, a fresh worker has not
