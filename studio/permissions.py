"""Who may do what through the API: everyone signed in reads, owners and helpers write, money only for those who may see it."""

from typing import TYPE_CHECKING

from rest_framework.permissions import SAFE_METHODS, BasePermission

from studio.models import User

if TYPE_CHECKING:  # the framework imports this module while it is itself being imported
    from rest_framework.request import Request
    from rest_framework.views import APIView


class IsWorker(BasePermission):
    """Everyone signed in may read; owners and helpers may write."""

    def has_permission(self, request: "Request", view: "APIView") -> bool:
        user = request.user
        return isinstance(user, User) and (request.method in SAFE_METHODS or user.may_write)


class SeesMoney(IsWorker):
    """As IsWorker, for those who may see costs and prices."""

    def has_permission(self, request: "Request", view: "APIView") -> bool:
        user = request.user
        return super().has_permission(request, view) and isinstance(user, User) and user.sees_money
