"""The address of the search."""

from django.urls import path

from studio.search import views

urlpatterns = [path("search/", views.search, name="search")]
