"""The front door. It draws on every room, so it stands in the top one."""

from costing.views import home

urlpatterns = home.urlpatterns
