"""The door for an application server. Books whose rules or settings are not safe are not served at all."""

import os

from django.core.wsgi import get_wsgi_application
from django.db import connections

from studio.operations import database_guard as serving
from studio.operations.checks import refuse_unsafe_books

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "studio.settings")
application = get_wsgi_application()
serving.hold(serving.books())  # first, so that a missing file is missed and never made anew
refuse_unsafe_books()
# A worker forked from here opens connections of its own; the lock stays with all of them.
connections.close_all()
