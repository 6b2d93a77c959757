"""Addresses of the room's pages."""

from django.urls import URLPattern, path

from inventory.sessions.views import (
    corrections,
    filling_cups,
    judging,
    photos,
    pour_groups,
    pours,
    session_logging,
    sessions,
    sets,
    stock_check,
    technique_paint,
    techniques,
    throwing_away,
    weighing_later,
)

urlpatterns: list[URLPattern] = [
    path("sessions/<int:pk>/photos/add/", photos.add, name="session-photo-add"),
    path("sessions/photos/<int:pk>/", photos.photo, name="session-photo"),
    path("sessions/photos/<int:pk>/thumbnail/", photos.thumbnail, name="session-thumbnail"),
    path("sessions/photos/<int:pk>/remove/", photos.remove, name="session-photo-remove"),
    path("stock-check/", stock_check.stock_check, name="stock-check"),
    path("recipes/<int:pk>/cup/", filling_cups.filling, name="cup"),
    path("pours/<int:pk>/", pours.pour, name="pour"),
    path("sessions/", sessions.sessions, name="sessions"),
    path("sessions/run-off/", pour_groups.run_off, name="run-off"),
    path("sessions/new/", session_logging.new, name="session-new"),
    path("sessions/new/figures/", session_logging.figures, name="session-figures"),
    path("sessions/<int:pk>/throw-away/", throwing_away.throw_pours_away, name="session-throw-away"),
    path("sessions/<int:pk>/", sessions.session, name="session"),
    path("sessions/<int:pk>/set/", sets.keep_set, name="session-set"),
    path("sessions/<int:pk>/correct/", corrections.correct, name="session-correct"),
    path("sessions/<int:pk>/judge/", judging.judge, name="session-judge"),
    path("sessions/<int:pk>/weigh/", weighing_later.weigh, name="session-weigh"),
    path("flaws/", judging.flaws, name="flaws"),
    path("flaws/new/", judging.FlawEdit.as_view(), name="flaw-new"),
    path("flaws/<int:pk>/edit/", judging.FlawEdit.as_view(), name="flaw-edit"),
    path("flaws/<int:pk>/delete/", judging.FlawDelete.as_view(), name="flaw-delete"),
    path("techniques/", techniques.techniques, name="techniques"),
    path("techniques/<int:pk>/paint/", technique_paint.technique_paint, name="technique-paint"),
    path("techniques/new/", techniques.TechniqueEdit.as_view(), name="technique-new"),
    path("techniques/<int:pk>/edit/", techniques.TechniqueEdit.as_view(), name="technique-edit"),
    path("techniques/<int:pk>/delete/", techniques.TechniqueDelete.as_view(), name="technique-delete"),
]
