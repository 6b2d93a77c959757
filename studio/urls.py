"""Every address, room by room (the rooms are named, not imported)."""

from csp.constants import SELF, UNSAFE_INLINE
from csp.decorators import csp_update
from django.contrib.auth import views as auth_views
from django.urls import include, path
from drf_spectacular.views import SpectacularAPIView

from studio.accounts.views.first_owner import first_owner
from studio.accounts.views.login import OwnPassword, PasswordLogin, code
from studio.api.documentation import Documentation
from studio.auditing.views import changes
from studio.pages.codes import codes
from studio.pages.glossary.views import glossary
from studio.pages.home_screen import favicon, manifest
from studio.pages.languages import language
from studio.pages.offline import login_state, worker
from studio.pages.own_pages import own_pages

# Swagger UI styles its parts in place and draws its icons from data addresses. Its scripts are files of our own.
swagger_csp = csp_update({"style-src": [SELF, UNSAFE_INLINE], "img-src": ["data:"]})
api_docs = swagger_csp(Documentation.as_view())
handler400 = "studio.serving.views.misaddressed"
handler404 = "studio.api.plain_problems.not_found"
handler500 = "studio.api.plain_problems.failed"
urlpatterns = [
    path("login/", PasswordLogin.as_view(), name="login"),
    path("login/code/", code, name="login-code"),
    path("start/", first_owner, name="first-owner"),
    path("login/state/", login_state, name="login-state"),
    path("worker.js", worker, name="worker"),
    path("logout/", auth_views.LogoutView.as_view(), name="logout"),
    path("password/", OwnPassword.as_view(), name="password_change"),
    path("password/done/", auth_views.PasswordChangeDoneView.as_view(), name="password_change_done"),
    path("language/", language, name="language"),
    path("your-pages/", own_pages, name="own-pages"),
    path("health/", include("studio.operations.health")),
    path("manifest.webmanifest", manifest, name="manifest"),
    path("favicon.ico", favicon, name="favicon"),
    path("codes/", codes, name="codes"),
    path("glossary/", glossary, name="glossary"),
    path("change-log/", changes, name="change-log"),
    path("", include("studio.backups.urls")),
    path("", include("studio.archive.urls")),
    path("", include("studio.accounts.urls")),
    path("", include("studio.setup.urls")),
    path("", include("studio.serving.urls")),
    path("", include("studio.imports.urls")),
    path("", include("studio.search.urls")),
    path("", include("studio.issued.urls")),
    path("api/schema/", SpectacularAPIView.as_view(), name="schema"),
    path("api/docs/", api_docs, name="api-docs"),
    path("api/", include("studio.api_urls")),
    path("api/", include("inventory.api_urls")),
    path("api/", include("costing.api_urls")),
    path("", include("costing.home.urls")),
    path("", include("costing.first_run.urls")),
    path("", include("inventory.urls")),
    path("", include("costing.urls")),
]
