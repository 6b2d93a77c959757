"""What the schema says of every endpoint by itself: how it refuses, and the headers that it needs."""

from typing import Any, ClassVar

from django.conf import settings
from django.utils.translation import get_language
from drf_spectacular.extensions import OpenApiAuthenticationExtension
from drf_spectacular.generators import SchemaGenerator
from drf_spectacular.openapi import AutoSchema
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiParameter
from rest_framework.serializers import ModelSerializer

from studio.api.plain_problems import MEDIA_TYPE
from studio.api.problems import Problem
from studio.api.viewsets import FIELDS

KEY = OpenApiParameter(
    "Idempotency-Key",
    OpenApiTypes.STR,
    OpenApiParameter.HEADER,
    required=True,
    pattern=r"^[!#-~]{1,80}$",
    description="Chosen by the sender, up to 80 characters, new for every request. Sent again with the same "
    "contents it saves nothing twice and returns the first result; with other contents it is refused (422).",
)
BLANK = {"type": "string", "maxLength": 0}
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
    required=True,
    pattern=r'^(\*|"[0-9]{1,18}(-gzip)?")$',
    description="The `ETag` that was read. If someone has changed it since, nothing is saved: 412, with what was "
    "changed, by whom and when. With `*` it is set whatever the current value is; without the header: 428.",
)


def name_choices(**choices: str) -> None:
    """Give sets of choices (the dotted paths of their classes) their names: each floor does, from its app's `ready`."""
    overrides: dict[str, str] = settings.SPECTACULAR_SETTINGS["ENUM_NAME_OVERRIDES"]  # type: ignore[assignment]
    overrides.update(choices)


class GeneratorOfOne(SchemaGenerator):
    """Generates the schema once in each language, since it is the same for everybody and takes two seconds."""

    made: ClassVar[dict[tuple[str | None, bool], dict[str, Any]]] = {}

    def get_schema(self, request: Any = None, public: bool = False) -> dict[str, Any]:
        asked = (get_language(), public)
        if asked not in self.made:
            self.made[asked] = super().get_schema(request, public)  # type: ignore[no-untyped-call]
        return self.made[asked]


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
        view = self.view
        if self.method != "POST":
            return None
        body = view.get_request_class()
        is_partial = (view.action == "change" or view.is_one_row) and issubclass(body, ModelSerializer)
        return body(partial=True) if is_partial else body

    def get_response_serializers(self) -> Any:
        view, writes = self.view, self.method == "POST"
        body = view.get_serializer_class()
        if view.answers_many:
            body = body(many=True)
        answers: dict[Any, Any] = {view.post_status if writes else 200: body}
        if view.action in view.pdf_actions:
            answers = {(200, "application/pdf"): OpenApiTypes.BINARY}
        if view.has_key and writes:
            answers[200] = body
        return answers | {(status, MEDIA_TYPE): Problem for status in self._refusals()}

    def _refusals(self) -> list[int]:
        """Every status that this operation may refuse with."""
        view, writes = self.view, self.method == "POST"
        has_version = IF_MATCH in self.get_override_parameters()
        return [
            400,
            401,
            403,
            *([404] if view.detail or (view.action == "list" and view.pagination_class) else []),
            406,
            *([409, 413, 415, 422] if writes else view.get_refusals),
            *([412, 428] if has_version else []),
            429,
            503,
            *([507] if writes else []),
        ]

    def _is_list_view(self, serializer: Any = None) -> bool:
        return not self.view.is_one_row and super()._is_list_view(serializer)

    def get_override_parameters(self) -> list[Any]:
        needs_key = self.view.has_key and self.method == "POST"
        is_json = self.method == "GET" and self.view.action not in self.view.pdf_actions
        sparse = [sparse_parameter(self.view)] if is_json else []
        return [*super().get_override_parameters(), *([KEY] if needs_key else []), *sparse]


def sparse_parameter(view: Any) -> OpenApiParameter:
    """Which names of an answer can be asked for."""
    names = list(view.get_serializer_class()().fields)
    one = {"type": "array", "minItems": 1, "items": {"type": "string", "enum": names}}
    return OpenApiParameter(
        FIELDS,
        one,
        OpenApiParameter.QUERY,
        required=False,
        explode=False,
        style="form",
        description="Answer with these names alone, separated by commas.",
    )


def in_words_of_the_standard(result: dict[str, Any], **_kwargs: Any) -> dict[str, Any]:
    """For drf-spectacular, which writes some things as OpenAPI 3.0 had them: 3.1 has JSON Schema's own words."""
    _reword(result)
    return result


def _reword(node: Any) -> None:
    if isinstance(node, list):
        for each in node:
            _reword(each)
    elif isinstance(node, dict):
        if node.pop("nullable", False) is True and isinstance(node.get("type"), str):
            node["type"] = [node["type"], "null"]
        if BLANK in node.get(
            "oneOf", ()
        ):  # a blank text may be of the other kind as well: formats are only notes
            node["anyOf"] = node.pop("oneOf")
        for each in node.values():
            _reword(each)


def offer_sparse_answers(result: dict[str, Any], **_kwargs: Any) -> dict[str, Any]:
    """For drf-spectacular: what answers to `fields` holds is described too, with every name optional."""
    schemas = result["components"]["schemas"]
    for methods in result["paths"].values():
        read = methods.get("get", {})
        if any(parameter["name"] == FIELDS for parameter in read.get("parameters", ())):
            content = read["responses"]["200"]["content"]["application/json"]
            content["schema"] = {"anyOf": [content["schema"], _sparse(content["schema"], schemas)]}
    result["components"]["schemas"] = dict(sorted(schemas.items()))
    return result


def _sparse(schema: dict[str, Any], schemas: dict[str, Any]) -> dict[str, Any]:
    """The same answer with every name of a row optional: of the row itself, of a list's, of a page's."""
    if schema.get("type") == "array":
        return schema | {"items": _sparse(schema["items"], schemas)}
    name = schema["$ref"].rpartition("/")[2]
    whole, sparse = schemas[name], f"Sparse{name}"
    if "results" in whole["properties"] and name.startswith("Paginated"):
        rows = _sparse(whole["properties"]["results"], schemas)
        schemas[sparse] = whole | {"properties": whole["properties"] | {"results": rows}}
    else:
        schemas[sparse] = {name: value for name, value in whole.items() if name != "required"}
        schemas[sparse]["description"] = "With `fields`: the names that were asked for."
    return {"$ref": f"#/components/schemas/{sparse}"}
