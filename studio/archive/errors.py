"""What goes wrong with archives."""

from studio.errors import MeniscusError


class ArchiveError(MeniscusError):
    """Raised when an archive cannot be written, read or imported; the text says why and what to do."""
