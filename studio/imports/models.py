"""What the headings of imported tables meant, for the next time."""

from django.db import models


class RememberedHeadings(models.Model):
    """For one kind of import: plain headings (`studio/imports/headings.py`) and the keys of the columns they meant."""

    kind = models.CharField(max_length=40, unique=True)
    meant = models.JSONField(default=dict)

    def __str__(self) -> str:
        return self.kind

    @classmethod
    def of(cls, kind: str) -> dict[str, str]:
        """What was meant the last time; nothing the first time."""
        row = cls.objects.filter(kind=kind).first()
        return dict(row.meant) if row else {}

    @classmethod
    def remember(cls, kind: str, meant: dict[str, str]) -> None:
        """Know what headings meant, besides those of other tables of this kind."""
        cls.objects.update_or_create(kind=kind, defaults={"meant": cls.of(kind) | meant})
