"""Imports for programs: what can be imported, and a table looked at or saved, as on the page."""

import base64
import binascii
from typing import Any

from django.db.models import TextChoices
from django.utils import timezone
from django.utils.translation import gettext_lazy
from rest_framework import serializers
from rest_framework.exceptions import PermissionDenied
from rest_framework.request import Request
from rest_framework.response import Response

from studio.accounts.permissions import IsWorker
from studio.accounts.roles import ROLE_REFUSED
from studio.api.serializers import RequestSerializer, ResponseSerializer
from studio.api.viewsets import StudioViewSet
from studio.errors import InputError
from studio.imports.actions import save_all
from studio.imports.checking import CheckedRow, OpenTable, RowState, check, open_table
from studio.imports.headings import plain
from studio.imports.kinds import ImportKind, every_kind, kind_named, kinds_for
from studio.imports.models import RememberedHeadings
from studio.imports.reading import MOST_BYTES, read_file
from studio.preferences.context import current_studio
from studio.preferences.formatting import Formatter
from studio.translation import _

LONGEST_HEADING, LONGEST_FIXED = 200, 200


class Wish(TextChoices):
    NOTHING = "nothing", gettext_lazy("Look only")
    ALL = "all", gettext_lazy("All rows")
    GOOD = "good", gettext_lazy("The good rows only")


class ImportRequest(RequestSerializer):
    """A table: the bytes of a CSV or XLSX file in base64, or its text with tabs, commas or semicolons."""

    kind = serializers.CharField(max_length=40, help_text="The code of a kind, as the list names it.")
    content = serializers.CharField(required=False, max_length=2 * MOST_BYTES, help_text="A file in base64.")
    text = serializers.CharField(
        required=False, max_length=MOST_BYTES, trim_whitespace=False, help_text="Instead of a file."
    )
    columns = serializers.DictField(
        child=serializers.CharField(max_length=40, allow_blank=True),
        required=False,
        help_text="What headings mean where their names do not tell: a heading, and the key of a column or nothing.",
    )
    fixed = serializers.DictField(
        child=serializers.CharField(max_length=LONGEST_FIXED, allow_blank=True),
        required=False,
        help_text="Values for all rows, by the keys of columns that the table lacks.",
    )
    rows_to_save = serializers.ChoiceField(
        choices=Wish.choices,
        default=Wish.NOTHING,
        help_text="With “all”, nothing is saved while a row has a problem.",
    )

    def validate_kind(self, code: str) -> str:
        if code not in {kind.code for kind in every_kind()}:
            codes = ", ".join(kind.code for kind in every_kind())
            raise serializers.ValidationError(_("Choose one of: {names}.", names=codes))
        return code

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        if ("content" in attrs) == ("text" in attrs):
            raise InputError(_("Send either “content” or “text”."), field="content")
        try:
            raw = (
                base64.b64decode(attrs["content"], validate=True)
                if "content" in attrs
                else attrs["text"].encode()
            )
        except (binascii.Error, ValueError):
            raise InputError(_("This is no base64."), field="content") from None
        return attrs | {"raw": raw}


class ImportColumnResponse(ResponseSerializer):
    """A column that a table may have."""

    key = serializers.CharField()
    name = serializers.CharField(source="label")
    help = serializers.CharField()
    is_required = serializers.BooleanField(source="required")


class ImportKindResponse(ResponseSerializer):
    """What can be imported."""

    code = serializers.CharField()
    title = serializers.CharField()
    columns = ImportColumnResponse(many=True)


class ImportProblemResponse(ResponseSerializer):
    """What is wrong with a row, and at which column."""

    column = serializers.CharField(source="field", allow_null=True)
    detail = serializers.CharField(source="*")


class ImportRowResponse(ResponseSerializer):
    """A row as it was read: as it is now, after saving where that was asked for."""

    line = serializers.IntegerField(source="line.number")
    state = serializers.ChoiceField(
        choices=[(state.value, state.value) for state in RowState],
        help_text="“there” is recorded already; “wrong” has problems.",
    )
    values = serializers.DictField(source="words", child=serializers.CharField())
    problems = ImportProblemResponse(many=True)


class ImportResponse(ResponseSerializer):
    """A table as it was read, and what was saved of it."""

    columns = serializers.DictField(
        child=serializers.CharField(), help_text="What each heading was taken to mean."
    )
    missing = serializers.ListField(
        child=serializers.CharField(), help_text="Columns that are needed and lacking."
    )
    notes = serializers.ListField(child=serializers.CharField())
    saved = serializers.IntegerField()
    rows = ImportRowResponse(many=True)


class ImportViewSet(StudioViewSet):
    """Tables to import. The same row sent again is not saved again, so no idempotency key is needed."""

    permission_classes = [IsWorker]
    queryset = RememberedHeadings.objects.none()
    serializer_class = ImportKindResponse
    detail_serializer_class = ImportResponse
    request_serializer_class = ImportRequest
    pagination_class = None
    post_status = 200

    def list(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        """What you may import."""
        return Response(self.get_serializer(kinds_for(self.user), many=True).data)

    def create(self, request: Request) -> Response:
        """Look at a table, or save its rows."""
        body = self.read_body()
        table = self._opened(body)
        rows = [] if table.missing else check(table)
        wish, saved = body["rows_to_save"], 0
        is_good = bool(rows) and (wish == Wish.GOOD or all(row.state is not RowState.WRONG for row in rows))
        if wish != Wish.NOTHING and is_good:
            done = save_all(table, submission=self.submission(), good_only=wish == Wish.GOOD)
            saved, rows = done.saved, _with(check(table), done.wrong)
        return self.answer(
            {
                "columns": dict(zip(table.headings.line.cells, table.headings.keys, strict=True)),
                "missing": table.missing,
                "notes": table.notes,
                "saved": saved,
                "rows": rows,
            }
        )

    def _opened(self, body: dict[str, Any]) -> OpenTable[ImportKind]:
        kind, studio = kind_named(body["kind"]), current_studio(self.request._request)
        if not kind.allows(self.user):
            raise PermissionDenied(str(ROLE_REFUSED))
        meant = {plain(heading)[:LONGEST_HEADING]: key for heading, key in body.get("columns", {}).items()}
        try:
            sheet = read_file(body["raw"], decimal_comma=Formatter.of(studio).decimal_comma)
            return open_table(
                kind,
                sheet,
                studio=studio,
                today=timezone.localdate(),
                remembered=RememberedHeadings.of(kind.code) | meant,
                fixed=body.get("fixed"),
            )
        except InputError as problem:
            field = "content" if "content" in body else "text"
            raise serializers.ValidationError({field: [str(problem)]}) from None


def _with(rows: list[CheckedRow], wrong: list[CheckedRow]) -> list[CheckedRow]:
    """Rows, and those among them that could not be saved with what stood in the way."""
    by_line = {row.line.number: row for row in wrong}
    return [by_line.get(row.line.number, row) for row in rows]


VIEWSETS = {"imports": ImportViewSet}
