"""Addresses of the room's pages."""

from django.urls import URLPattern, path

from costing.overhead import views

urlpatterns: list[URLPattern] = [
    path("settings/overhead/", views.overhead, name="overhead"),
    path("settings/overhead/new/", views.YearEdit.as_view(), name="overhead-new"),
    path("settings/overhead/<int:pk>/", views.overhead_year, name="overhead-year"),
    path("settings/overhead/<int:pk>/edit/", views.YearEdit.as_view(), name="overhead-edit"),
    path("settings/overhead/<int:pk>/delete/", views.YearDelete.as_view(), name="overhead-delete"),
    path("settings/overhead/<int:pk>/rate/", views.take_over, name="overhead-rate"),
    path("settings/overhead/lines/new/", views.LineEdit.as_view(), name="overhead-line-new"),
    path("settings/overhead/lines/<int:pk>/", views.LineEdit.as_view(), name="overhead-line-edit"),
    path("settings/overhead/lines/<int:pk>/delete/", views.LineDelete.as_view(), name="overhead-line-delete"),
]
