"""Addresses of the room's pages."""

from django.urls import URLPattern, path

from inventory.comparisons.views import comparisons, counting, outcomes, papers, pours, scoring

urlpatterns: list[URLPattern] = [
    path("comparisons/", comparisons.comparisons, name="comparisons"),
    path("comparisons/new/", comparisons.new, name="comparison-new"),
    path("sessions/outcomes/", outcomes.outcomes, name="outcomes"),
    path("comparisons/<int:pk>/", comparisons.comparison, name="comparison"),
    path("comparisons/<int:pk>/edit/", comparisons.ComparisonEdit.as_view(), name="comparison-edit"),
    path("comparisons/<int:pk>/pours/", pours.pours, name="comparison-pours"),
    path("comparisons/<int:pk>/codes/", pours.codes, name="comparison-codes"),
    path("comparisons/<int:pk>/score/", scoring.score, name="comparison-score"),
    path("comparisons/<int:pk>/finish/", comparisons.finish_it, name="comparison-finish"),
    path("comparisons/<int:pk>/open/", comparisons.open_it, name="comparison-open"),
    path("comparisons/<int:pk>/delete/", comparisons.discard_it, name="comparison-discard"),
    path("comparisons/<int:pk>/report.pdf", papers.report, name="comparison-report"),
    path("comparisons/<int:pk>/recipes.pdf", papers.recipes, name="comparison-recipes"),
    path("comparisons/<int:pk>/recipes.txt", papers.recipes_text, name="comparison-recipes-text"),
    path("comparisons/pieces/<int:pk>/photo/", counting.piece_photo, name="comparison-piece-photo"),
    path("comparisons/pieces/<int:pk>/count/", counting.count_piece, name="comparison-piece-count"),
    path("comparisons/counts/<int:pk>/", counting.count, name="comparison-count"),
    path("comparisons/counts/<int:pk>/picture/", counting.picture, name="comparison-count-picture"),
    path("comparisons/counts/<int:pk>/marks/", counting.marks, name="comparison-count-marks"),
    path("comparisons/counts/<int:pk>/finish/", counting.finish_counting, name="comparison-count-finish"),
]
