"""Printed papers: plain rows in, PDF bytes out; nothing here reads the books."""
