"""Addresses of the room's pages."""

from django.urls import URLPattern, path

from costing.contacts import views

urlpatterns: list[URLPattern] = [
    path("contacts/", views.contacts, name="contacts"),
    path("contacts/new/", views.ContactEdit.as_view(), name="contact-new"),
    path("contacts/<int:pk>/", views.contact, name="contact"),
    path("contacts/<int:pk>/edit/", views.ContactEdit.as_view(), name="contact-edit"),
    path("contacts/<int:pk>/file/", views.contact_file, name="contact-file"),
    path("contacts/<int:pk>/erase/", views.ContactErase.as_view(), name="contact-erase"),
]
