"""Addresses of the room's pages."""

from django.urls import URLPattern, path

from studio.issued import views

urlpatterns: list[URLPattern] = [
    path("issued/<int:pk>/", views.issued_paper, name="issued-paper"),
    path("issued/<slug:kind>/<int:pk>/", views.issue_paper, name="issue-paper"),
]
