"""The front door. It draws on every room, so it stands in the top one."""

from costing.home import views as home

urlpatterns = home.urlpatterns
