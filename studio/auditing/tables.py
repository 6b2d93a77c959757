"""The change log as a list."""

from django.utils.translation import gettext_lazy as _
from django.utils.translation import pgettext_lazy

from studio.auditing.wording import ChangeWords
from studio.pages.columns import Column, MomentColumn
from studio.pages.tables import Table


class ChangeTable(Table[ChangeWords]):
    caption = _("Changes, newest first")
    file_name = "change-log"
    columns = (
        MomentColumn("when", _("When"), lambda row: row.change.at, css="day"),
        Column(
            "who",
            _("Who"),
            lambda row: row.change.by.get_username() if row.change.by else _("on the studio's computer"),
        ),
        Column("what", _("What"), lambda row: f"{row.noun}: {row.change.name}"),
        Column("field", pgettext_lazy("noun", "Change"), lambda row: row.field or row.change.action.label),
        Column("old", pgettext_lazy("value", "From"), lambda row: row.old, css="value"),
        Column("new", pgettext_lazy("value", "To"), lambda row: row.new, css="value"),
    )
