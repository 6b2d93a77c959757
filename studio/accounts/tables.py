"""The list of people who sign in."""

from datetime import datetime

from django.urls import reverse
from django.utils import timezone
from django.utils.formats import date_format
from django.utils.translation import gettext_lazy

from studio.accounts.models import User
from studio.pages.columns import Badge, Column
from studio.pages.tables import Table

YES, NO = gettext_lazy("yes"), gettext_lazy("no")
ON, OFF = gettext_lazy("on"), gettext_lazy("off")


def _moment(at: datetime | None) -> str:
    return date_format(timezone.localtime(at), "j M Y, H:i") if at else ""


def _status(row: User) -> Badge:
    if not row.is_active:
        return "stop", gettext_lazy("Deactivated")
    if row.locked_until:  # type: ignore[attr-defined]  # from the query
        return "wait", gettext_lazy("Login locked")
    return "good", gettext_lazy("Active")


class PeopleTable(Table[User]):
    """People as `studio.accounts.queries.people` lists them."""

    caption = gettext_lazy("People")
    columns = (
        Column[User](
            key="username",
            label=gettext_lazy("User name"),
            value=lambda row: row.get_username(),
            link=lambda row: reverse("person", args=[row.pk]),
            note=lambda row: row.get_full_name(),
        ),
        Column[User](key="role", label=gettext_lazy("Role"), value=lambda row: row.get_role_display()),
        Column[User](
            key="money",
            label=gettext_lazy("Sees costs and prices"),
            value=lambda row: YES if row.sees_money else NO,
        ),
        Column[User](
            key="two_factor",
            label=gettext_lazy("Two-factor sign-in"),
            value=lambda row: ON if row.has_two_factor else OFF,  # type: ignore[attr-defined]  # from the query
        ),
        Column[User](
            key="last_login", label=gettext_lazy("Last login"), value=lambda row: _moment(row.last_login)
        ),
        Column[User](key="status", label=gettext_lazy("Status"), value=lambda row: None, badge=_status),
    )
