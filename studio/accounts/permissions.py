"""Who may do what through the API: all signed in read, owners and helpers write, some see no money."""

from typing import TYPE_CHECKING

from django.utils.translation import gettext_lazy
from rest_framework.permissions import SAFE_METHODS, BasePermission

from studio.accounts.models import Token, User

if TYPE_CHECKING:  # the framework imports this module while it is itself being imported
    from rest_framework.request import Request
    from rest_framework.views import APIView


class IsSignedIn(BasePermission):
    """Everyone signed in, for addresses that write nothing whatever the method."""

    def has_permission(self, request: "Request", view: "APIView") -> bool:
        return isinstance(request.user, User)


class IsWorker(IsSignedIn):
    """Everyone signed in may read; owners and helpers may write, by a token only if it is one for writing."""

    message = gettext_lazy("Your role does not allow this, or your token is read-only.")

    def has_permission(self, request: "Request", view: "APIView") -> bool:
        user = request.user
        if not isinstance(user, User):
            return False
        by_token = not isinstance(request.auth, Token) or request.auth.may_write
        return request.method in SAFE_METHODS or (user.may_write and by_token)


class WritersOnly(IsWorker):
    """As IsWorker, but nobody else reads: for what names people."""

    def has_permission(self, request: "Request", view: "APIView") -> bool:
        user = request.user
        return super().has_permission(request, view) and isinstance(user, User) and user.may_write


class SeesMoney(IsWorker):
    """As IsWorker, for those who may see costs and prices."""

    def has_permission(self, request: "Request", view: "APIView") -> bool:
        user = request.user
        return super().has_permission(request, view) and isinstance(user, User) and user.sees_money


class OwnerWrites(SeesMoney):
    """As SeesMoney for reading; only owners write."""

    def has_permission(self, request: "Request", view: "APIView") -> bool:
        user = request.user
        may_write = request.method in SAFE_METHODS or (isinstance(user, User) and user.is_owner)
        return super().has_permission(request, view) and may_write


class IsOwner(IsWorker):
    """Owners alone."""

    def has_permission(self, request: "Request", view: "APIView") -> bool:
        user = request.user
        return super().has_permission(request, view) and isinstance(user, User) and user.is_owner
