"""Who may do what. Deny by default: every page says which roles it serves."""

from collections.abc import Callable
from functools import wraps
from typing import TYPE_CHECKING, Concatenate, ParamSpec, cast

from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponseBase
from django.utils.translation import gettext_lazy

from studio.accounts.models import Role, User
from studio.translation import _

if TYPE_CHECKING:
    from django.utils.functional import _StrOrPromise

Rest = ParamSpec("Rest")
View = Callable[Concatenate[HttpRequest, Rest], HttpResponseBase]

EVERYONE = (Role.OWNER, Role.HELPER, Role.BOOKKEEPER)
WORKERS = (Role.OWNER, Role.HELPER)
OWNER_ONLY = (Role.OWNER,)
ROLE_REFUSED = gettext_lazy("Your role does not include this page. Ask the owner if you need it.")


def role_required(
    *roles: Role, money: bool = False, refusal: "_StrOrPromise" = ROLE_REFUSED
) -> Callable[[View[Rest]], View[Rest]]:
    """Serve a view to these roles only; with `money`, only to those who may see costs and prices."""

    def wrap(view: View[Rest]) -> View[Rest]:
        @wraps(view)
        def guarded(request: HttpRequest, *args: Rest.args, **kwargs: Rest.kwargs) -> HttpResponseBase:
            user = request.user
            if not isinstance(user, User) or user.role not in roles or (money and not user.sees_money):
                raise PermissionDenied(str(refusal))
            return view(request, *args, **kwargs)

        guarded.serves_roles = roles  # type: ignore[attr-defined]
        return cast("View[Rest]", guarded)

    return wrap


def owner_required(view: View[Rest]) -> View[Rest]:
    """Serve a page that changes how the studio is set up to owners alone."""
    return role_required(*OWNER_ONLY, refusal=gettext_lazy("Only the owner can change settings."))(view)


def current_user(request: HttpRequest) -> User:
    """The signed-in person; pages sit behind a login, so anything else is refused."""
    if not isinstance(request.user, User):
        raise PermissionDenied(_("Please log in first."))
    return request.user
