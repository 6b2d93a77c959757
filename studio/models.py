"""The ground floor's tables, gathered from its rooms for Django."""

from studio.accounts.models import Role, Token, TokenScope, User
from studio.auditing.models import ChangeSeal
from studio.backups.models import Backup
from studio.imports.models import RememberedHeadings
from studio.issued.models import IssuedPaper
from studio.operations.models import BookCheck
from studio.preferences.models import Studio

__all__ = [
    "Backup",
    "BookCheck",
    "ChangeSeal",
    "IssuedPaper",
    "RememberedHeadings",
    "Role",
    "Studio",
    "Token",
    "TokenScope",
    "User",
]
