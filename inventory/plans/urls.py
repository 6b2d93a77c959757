"""Addresses of the room's pages."""

from django.urls import URLPattern, path

from inventory.plans.views import editing, plans, repeating

urlpatterns: list[URLPattern] = [
    path("plans/", plans.plans, name="plans"),
    path("plans/new/", editing.new, name="plan-new"),
    path("plans/repeat/", repeating.repeat, name="plan-repeat"),
    path("plans/<int:pk>/", plans.plan, name="plan"),
    path("plans/<int:pk>/edit/", editing.edit, name="plan-edit"),
    path("plans/<int:pk>/copy/", plans.copy, name="plan-copy"),
    path("plans/<int:pk>/delete/", editing.PlanDelete.as_view(), name="plan-delete"),
]
