"""Requests that a machine makes up from the API's own document: see tests/README.md."""
