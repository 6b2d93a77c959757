"""Addresses of the room's pages."""

from django.urls import URLPattern, path

from costing.pieces.views import photos, piece, pieces, together, work

urlpatterns: list[URLPattern] = [
    path("pieces/new/", pieces.new, name="piece-new"),
    path("pieces/of-session/<int:pk>/", together.of_session, name="pieces-of-session"),
    path("pieces/<int:pk>/edit/", piece.PieceEdit.as_view(), name="piece-edit"),
    path("pieces/<int:pk>/split/", piece.split, name="piece-split"),
    path("pieces/<int:pk>/photo/", photos.photo, name="piece-photo"),
    path("pieces/<int:pk>/thumbnail/", photos.photo, {"is_thumbnail": True}, name="piece-thumbnail"),
    path("pieces/<int:pk>/photo/change/", photos.change, name="piece-photo-change"),
    path("pieces/<int:pk>/photo/adopt/", photos.adopt, name="piece-photo-adopt"),
    path("pieces/<int:pk>/photo/remove/", photos.remove, name="piece-photo-remove"),
    path("pieces/<int:pk>/", piece.piece, name="piece"),
    path("pieces/<int:pk>/step/", piece.step, name="piece-step"),
    path("pieces/<int:pk>/price/", piece.price, name="piece-price"),
    path("pieces/<int:pk>/minutes/", piece.minutes, name="piece-minutes"),
    path("pieces/", pieces.pieces, name="pieces"),
    path("pieces/<int:pk>/finish/", work.finish, name="piece-finish"),
    path("pieces/<int:pk>/pack/", work.pack, name="piece-pack"),
]
