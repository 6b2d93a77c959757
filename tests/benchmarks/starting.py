"""How long a command takes to start, beside a project that has the same libraries installed and nothing of its own."""

import os
import subprocess
import sys
import tempfile
from functools import partial
from pathlib import Path

from django.conf import settings

from tests.benchmarks.figures import Figure, side_by_side

OURS = ("studio.", "inventory.", "costing.")
EMPTY_SETTINGS = """
SECRET_KEY = "an empty project's own"
INSTALLED_APPS = {apps!r}
ROOT_URLCONF = "empty_urls"
DATABASES = {{"default": {{"ENGINE": "django.db.backends.sqlite3", "NAME": ":memory:"}}}}
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"
MIDDLEWARE = {middleware!r}
TEMPLATES = [{{"BACKEND": "django.template.backends.django.DjangoTemplates", "OPTIONS": {{"context_processors": [
    "django.template.context_processors.request", "django.contrib.auth.context_processors.auth",
    "django.contrib.messages.context_processors.messages"]}}}}]
"""
EMPTY_ADDRESSES = """
urlpatterns = []
"""


def start_up(*, runs: int, part: int) -> Figure:
    """`check` of this project and of the empty one, each in a process of its own; there is no part of starting up."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        apps = [app for app in settings.INSTALLED_APPS if not app.startswith(OURS)]
        middleware = [part for part in settings.MIDDLEWARE if not part.startswith(OURS)]
        folder.joinpath("empty_settings.py").write_text(
            EMPTY_SETTINGS.format(apps=apps, middleware=middleware)
        )
        folder.joinpath("empty_urls.py").write_text(EMPTY_ADDRESSES)
        check = partial(_check, folder)
        return side_by_side(
            "P10 start up: check",
            partial(check, "studio.settings", str(settings.BASE_DIR / "manage.py")),
            partial(check, "empty_settings", "-m", "django"),
            runs=runs,
        )


def _check(folder: Path, module: str, *script: str) -> None:
    """Compiled files are kept from the first run on, as they are where a project is installed."""
    environment = {
        **os.environ,
        "DJANGO_SETTINGS_MODULE": module,
        "PYTHONPATH": os.pathsep.join([str(folder), str(settings.BASE_DIR)]),
        "PYTHONDONTWRITEBYTECODE": "",
        "PYTHONPYCACHEPREFIX": str(folder / "compiled"),
    }
    command = [sys.executable, *script, "check"]
    subprocess.run(command, env=environment, cwd=folder, check=True, capture_output=True)
