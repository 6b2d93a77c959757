"""The list of people who sign in."""

from django.utils.translation import gettext_lazy

from studio.accounts.models import User
from studio.pages.addresses import row_address
from studio.pages.columns import Badge, Column, MomentColumn
from studio.pages.tables import Table

YES, NO = gettext_lazy("yes"), gettext_lazy("no")
ON, OFF = gettext_lazy("on"), gettext_lazy("off")


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
        Column(
            "username",
            gettext_lazy("Username"),
            User.get_username,
            link=lambda row: row_address("person", row.pk),
            note=User.get_full_name,
        ),
        Column("role", gettext_lazy("Role"), lambda row: row.get_role_display()),
        Column("money", gettext_lazy("Sees costs and prices"), lambda row: YES if row.sees_money else NO),
        Column(
            "two_factor", gettext_lazy("Two-factor sign-in"), lambda row: ON if row.has_two_factor else OFF
        ),
        MomentColumn("last_login", gettext_lazy("Last login"), lambda row: row.last_login),
        Column("status", gettext_lazy("Status"), lambda row: None, badge=_status),
    )
