"""The page that documents the API: for a browser, but refused the way programs are."""

from django.http import HttpResponse
from drf_spectacular.views import SpectacularSwaggerSplitView

from studio.api.plain_problems import plain_problem


class Documentation(SpectacularSwaggerSplitView):
    """A refusal has no page: to draw one would ask for the person, whose token may be what was refused."""

    def handle_exception(self, exc: Exception) -> HttpResponse:  # type: ignore[override]  # no renderer is needed
        refused = super().handle_exception(exc)
        problem = plain_problem(refused.status_code, str(refused.data["detail"]))
        for name, value in refused.headers.items():
            problem.headers.setdefault(name, value)
        return problem
