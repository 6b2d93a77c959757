"""Addresses of the room's pages. What is in stock of a material is the stock room's."""

from django.urls import URLPattern, path

from inventory.materials import views

urlpatterns: list[URLPattern] = [
    path("materials/", views.materials, name="materials"),
    path("materials/new/", views.MaterialEdit.as_view(), name="material-new"),
    path("materials/<int:pk>/edit/", views.MaterialEdit.as_view(), name="material-edit"),
    path("materials/<int:pk>/density/", views.DensitySample.as_view(), name="material-density"),
    path("materials/<int:pk>/archive/", views.archive, name="material-archive"),
    path("materials/<int:pk>/delete/", views.MaterialDelete.as_view(), name="material-delete"),
    path("suppliers/", views.suppliers, name="suppliers"),
    path("suppliers/new/", views.SupplierEdit.as_view(), name="supplier-new"),
    path("suppliers/<int:pk>/edit/", views.SupplierEdit.as_view(), name="supplier-edit"),
    path("suppliers/<int:pk>/delete/", views.SupplierDelete.as_view(), name="supplier-delete"),
    path("packs/new/", views.PackEdit.as_view(), name="pack-new"),
    path("packs/<int:pk>/edit/", views.PackEdit.as_view(), name="pack-edit"),
    path("packs/<int:pk>/delete/", views.PackDelete.as_view(), name="pack-delete"),
]
