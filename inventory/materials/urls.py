"""Addresses of the room's pages. What is in stock of a material is the stock room's."""

from django.urls import URLPattern, path

from inventory.materials.views import materials, packs, suppliers

urlpatterns: list[URLPattern] = [
    path("materials/", materials.materials, name="materials"),
    path("materials/new/", materials.edit, name="material-new"),
    path("materials/<int:pk>/edit/", materials.edit, name="material-edit"),
    path("materials/<int:pk>/archive/", materials.archive, name="material-archive"),
    path("materials/<int:pk>/delete/", materials.delete, name="material-delete"),
    path("suppliers/", suppliers.suppliers, name="suppliers"),
    path("suppliers/new/", suppliers.edit, name="supplier-new"),
    path("suppliers/<int:pk>/", suppliers.supplier, name="supplier"),
    path("suppliers/<int:pk>/edit/", suppliers.edit, name="supplier-edit"),
    path("suppliers/<int:pk>/delete/", suppliers.delete, name="supplier-delete"),
    path("packs/new/", packs.edit, name="pack-new"),
    path("packs/<int:pk>/edit/", packs.edit, name="pack-edit"),
    path("packs/<int:pk>/delete/", packs.delete, name="pack-delete"),
]
