"""The whole studio as an open archive: plain text that any program reads, and that fills an empty studio again.

A backup goes back into the kind of database that it came from; an archive goes into either, and out of Meniscus.
"""
