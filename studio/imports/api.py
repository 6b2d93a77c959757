"""Imports for programs: what can be imported, and a table looked at or saved, as on the page."""

import base64
import binascii
from collections.abc import Sequence
from dataclasses import replace
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
from studio.imports.checking import OpenTable, RowState, check, open_table, with_problems
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
    sheet = serializers.CharField(
        required=False,
        allow_blank=True,
        max_length=LONGEST_HEADING,
        help_text="The name of a workbook's sheet. Without it, the first that holds rows.",
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
    add_new = serializers.BooleanField(
        default=False,
        help_text="Also add the materials that its rows name and that are new, where the kind and your role allow it.",
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
    sheets = serializers.ListField(
        child=serializers.CharField(), help_text="The names of a workbook's sheets."
    )
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
        table, sheets = self._opened(body)
        rows = [] if table.missing else check(table)
        wish, saved = body["rows_to_save"], 0
        is_good = bool(rows) and (wish == Wish.GOOD or all(row.state is not RowState.WRONG for row in rows))
        if wish != Wish.NOTHING and is_good:
            done = save_all(table, submission=self.submission(), good_only=wish == Wish.GOOD)
            saved, rows = done.saved, with_problems(check(table), done.wrong)
        return self.answer(
            {
                "columns": dict(zip(table.headings.line.cells, table.headings.keys, strict=True)),
                "missing": table.missing,
                "notes": table.notes,
                "sheets": sheets,
                "saved": saved,
                "rows": rows,
            }
        )

    def _opened(self, body: dict[str, Any]) -> tuple[OpenTable[ImportKind], Sequence[str]]:
        """The table, and the names of its workbook's sheets."""
        kind, studio = kind_named(body["kind"]), current_studio(self.request._request)
        if not kind.allows(self.user):
            raise PermissionDenied(str(ROLE_REFUSED))
        meant = {plain(heading)[:LONGEST_HEADING]: key for heading, key in body.get("columns", {}).items()}
        try:
            comma = Formatter.of(studio).decimal_comma
            sheet = read_file(body["raw"], decimal_comma=comma, sheet=body.get("sheet", ""))
            table = open_table(
                kind,
                sheet,
                studio=studio,
                today=timezone.localdate(),
                remembered=RememberedHeadings.of(kind.code) | meant,
                fixed=body.get("fixed"),
            )
            may_add = kind.can_add and self.user.is_owner
            return replace(table, may_add=may_add, add_new=may_add and body["add_new"]), sheet.names
        except InputError as problem:
            field = "content" if "content" in body else "text"
            raise serializers.ValidationError({field: [str(problem)]}) from None


VIEWSETS = {"imports": ImportViewSet}
