"""Django's SQLite engine, with triggers kept when Django rebuilds a table.

Named in settings as the ENGINE.
"""
