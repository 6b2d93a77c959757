"""Addresses of the room's pages. What is in stock of a material is the stock room's."""

from django.urls import URLPattern, path

from inventory.materials.views import materials, suppliers

urlpatterns: list[URLPattern] = [
    path("materials/", materials.materials, name="materials"),
    path("materials/new/", materials.MaterialEdit.as_view(), name="material-new"),
    path("materials/<int:pk>/edit/", materials.MaterialEdit.as_view(), name="material-edit"),
    path("materials/<int:pk>/archive/", materials.archive, name="material-archive"),
    path("materials/<int:pk>/delete/", materials.MaterialDelete.as_view(), name="material-delete"),
    path("suppliers/", suppliers.suppliers, name="suppliers"),
    path("suppliers/new/", suppliers.SupplierEdit.as_view(), name="supplier-new"),
    path("suppliers/<int:pk>/", suppliers.supplier, name="supplier"),
    path("suppliers/<int:pk>/edit/", suppliers.SupplierEdit.as_view(), name="supplier-edit"),
    path("suppliers/<int:pk>/delete/", suppliers.SupplierDelete.as_view(), name="supplier-delete"),
    path("packs/new/", suppliers.PackEdit.as_view(), name="pack-new"),
    path("packs/<int:pk>/edit/", suppliers.PackEdit.as_view(), name="pack-edit"),
    path("packs/<int:pk>/delete/", suppliers.PackDelete.as_view(), name="pack-delete"),
]
