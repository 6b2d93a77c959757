"""What the schema says of every endpoint by itself: how it refuses, and the headers that it needs."""

from typing import Any

from django.conf import settings
from drf_spectacular.extensions import OpenApiAuthenticationExtension
from drf_spectacular.openapi import AutoSchema
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiParameter

from studio.api.problems import MEDIA_TYPE, Problem

KEY = OpenApiParameter(
    "Idempotency-Key",
    OpenApiTypes.STR,
    OpenApiParameter.HEADER,
    required=True,
    description="Chosen by the sender, up to 80 characters, new for every request. Sent again with the same "
    "contents it saves nothing twice and returns the first result; with other contents it is refused (422).",
)
ENTITY_TAG = OpenApiParameter(
    "ETag",
    OpenApiTypes.STR,
    OpenApiParameter.HEADER,
    response=[200],
    description="Version of this resource. Send it in `If-Match` to change only this version.",
)
IF_MATCH = OpenApiParameter(
    "If-Match",
    OpenApiTypes.STR,
    OpenApiParameter.HEADER,
    required=False,
    description="The `ETag` that was read. If someone has changed it since, nothing is saved: 409, with what was "
    "changed, by whom and when. Without the header it is set whatever the current value is.",
)


def name_choices(**choices: str) -> None:
    """Give sets of choices (the dotted paths of their classes) their names: each floor does, from its app's `ready`."""
    overrides: dict[str, str] = settings.SPECTACULAR_SETTINGS["ENUM_NAME_OVERRIDES"]  # type: ignore[assignment]
    overrides.update(choices)


class TokenScheme(OpenApiAuthenticationExtension):  # type: ignore[no-untyped-call]
    """How the schema names the tokens."""

    target_class = "studio.accounts.authentication.TokenLogin"
    name = "token"

    def get_security_definition(self, auto_schema: Any) -> dict[str, str]:
        return {"type": "http", "scheme": "bearer"}


class StudioSchema(AutoSchema):
    """Reads a StudioViewSet's serializers, and adds the problem documents."""

    view: Any  # a StudioViewSet

    def get_request_serializer(self) -> Any:
        return self.view.request_serializer_class if self.method == "POST" else None

    def get_response_serializers(self) -> Any:
        view, writes = self.view, self.method == "POST"
        body = view.get_serializer_class()
        answers: dict[Any, Any] = {view.post_status if writes else 200: body}
        if view.action in view.pdf_actions:
            answers = {(200, "application/pdf"): OpenApiTypes.BINARY}
        if view.has_key and writes:
            answers[200] = body
        refusals = [
            400,
            401,
            403,
            *([404] if view.detail or view.action == "list" else []),
            *([409, 422] if writes else []),
        ]
        return answers | {(status, MEDIA_TYPE): Problem for status in refusals}

    def get_override_parameters(self) -> list[Any]:
        needs_key = self.view.has_key and self.method == "POST"
        return [*super().get_override_parameters(), *([KEY] if needs_key else [])]
