"""Addresses of the room's pages."""

from django.urls import URLPattern, path

from studio.accounts.views import people, two_factor

urlpatterns: list[URLPattern] = [
    path("two-factor/", two_factor.own_codes, name="two-factor"),
    path("two-factor/begin/", two_factor.begin, name="two-factor-begin"),
    path("two-factor/confirm/", two_factor.confirm, name="two-factor-confirm"),
    path("two-factor/recovery/", two_factor.renew, name="two-factor-recovery"),
    path("two-factor/off/", two_factor.switch_off, name="two-factor-off"),
    path("settings/people/", people.people_list, name="people"),
    path("settings/people/new/", people.PersonAdd.as_view(), name="person-new"),
    path("settings/people/<int:pk>/", people.PersonEdit.as_view(), name="person"),
    path("settings/people/<int:pk>/password/", people.person_password, name="person-password"),
    path("settings/people/<int:pk>/activity/", people.person_activity, name="person-activity"),
    path(
        "settings/people/<int:pk>/two-factor/off/", people.person_two_factor_off, name="person-two-factor-off"
    ),
    path("settings/people/<int:pk>/unlock/", people.person_unlock, name="person-unlock"),
]
