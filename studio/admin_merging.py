"""A settings page that was refused, merged with what was changed meanwhile: its own fields, and its inline rows.

A row that was added meanwhile is shown with the others. Of one that was deleted no value is left anywhere, so the page
carries a digest of each row as it showed it: a row left alone goes, one that was typed into stays as a new one.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from hashlib import sha256
from typing import Any, cast

from django.db.models import Model
from django.forms import BaseForm
from django.forms.formsets import DELETION_FIELD_NAME, INITIAL_FORM_COUNT, TOTAL_FORM_COUNT
from django.http import HttpRequest, QueryDict

from studio.admin_rows import AnyRows, EditedRows
from studio.auditing.edit_conflicts import EditConflict
from studio.auditing.merging import (
    Merge,
    Sent,
    Version,
    in_words,
    labels_of,
    mark,
    merge,
    sent_in,
    stands_at,
    tidied,
    told,
)
from studio.preferences.formatting import Formatter
from studio.preferences.models import Studio
from studio.translation import _
from studio.values.numbers import read_small_whole

OPENED = "opened-rows"  # what the page says of its rows: "supplies-17-0a1b2c3d4e5f", with spaces between


@dataclass(slots=True)
class MergedPage:
    """A refused page: what is sent in its place, and what is told of it."""

    problem: EditConflict
    formatter: Formatter
    sent: QueryDict
    own: Merge = field(default_factory=Merge)
    fresh: list[str] = field(default_factory=list)
    disputed: list[str] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    came_or_went: bool = False
    # What is said at the fields of rows: by prefix, number of the row, and field.
    disputed_rows: dict[str, dict[str, dict[str, str]]] = field(default_factory=dict)

    def tell(self, form: Any) -> None:
        """Put onto the form what was changed, and what was done about it."""
        mark(form, self.own, self.formatter)
        fresh = [*labels_of(form, self.own.fresh), *self.fresh]
        disputed = [*labels_of(form, self.own.disputed), *self.disputed]
        notes = list(self.notes)
        if self.came_or_went:
            notes.append(
                _(
                    "Rows that were added or deleted meanwhile are so on your page too. "
                    "Look them over and save again."
                )
            )
        form.add_error(None, [*self.problem.told, *told(fresh, disputed, notes)])

    def put(self, key: str, texts: Sent) -> None:
        self.sent.pop(key, None)
        if texts:
            self.sent.setlist(key, list(texts))

    def put_all(self, merged: Merge, start: str = "") -> None:
        for name, texts in merged.sent.items():
            self.put(start + name, texts)


def merged_page(pages: Any, request: HttpRequest, row: Any, problem: EditConflict) -> MergedPage:
    """Merge what was sent to a settings page with the row as it stands, which must be locked."""
    page = MergedPage(problem, Formatter.of(Studio.current()), request.POST.copy())
    form = pages.get_form(request, row, change=True)
    now, before = form(instance=row), _as_it_was(form, problem.before(row))
    page.own = merge(
        now.fields, Version.of_form(before), Version.of_form(now), sent_in(now.fields, page.sent, str)
    )
    page.put_all(page.own)
    for rows, inline in pages.get_formsets_with_inlines(request, row):
        if issubclass(rows, EditedRows):
            _RowsMerge(page, rows, inline.get_queryset(request), row).merge()
    return page


def opened_rows(formsets: Iterable[AnyRows]) -> str:
    """What a page says of the rows that it shows: of each, by its number, a digest."""
    return " ".join(
        _opened(str(rows.prefix), str(form.instance.pk), Version.of_form(form, only=_typed_fields(rows)).sent)
        for rows in formsets
        for form in rows.initial_forms
    )


class _RowsMerge:
    """The merge of one set of inline rows with those that stand."""

    def __init__(self, page: MergedPage, rows: type[EditedRows], queryset: Any, parent: Any) -> None:
        self.page, self.prefix = page, rows.get_default_prefix()
        now = rows(instance=parent, queryset=queryset, prefix=self.prefix)
        was = rows(instance=parent, queryset=queryset, prefix=self.prefix)
        was.in_place = [page.problem.before(form.instance) for form in now.initial_forms]
        self.now = {str(form.instance.pk): form for form in now.initial_forms}
        self.before = {str(form.instance.pk): form for form in was.initial_forms}
        self.table = cast("type[Model]", now.model)
        self.names = _typed_fields(now)
        self.fields = {name: now.empty_form.fields[name] for name in self.names}
        self.most = now.absolute_max

    def merge(self) -> None:
        for number in range(self._count(INITIAL_FORM_COUNT)):
            row = self._row(number)
            if row in self.now:
                self._merge_row(row, number)
            elif read_small_whole(row):
                self._leave_out(row, number)
        formatter = {self._row(number) for number in range(self._count(TOTAL_FORM_COUNT))}
        for row, form in self.now.items():
            if row not in formatter:
                self._add(row, form)

    def _merge_row(self, row: str, number: int) -> None:
        page, form = self.page, self.now[row]
        before, now = (Version.of_form(each, only=self.names) for each in (self.before[row], form))
        merged = merge(form.fields, before, now, self._sent(number))
        page.put_all(merged, self._key(number))
        called = page.problem.name_of(self.table, row)
        if self._key(number, DELETION_FIELD_NAME) in page.sent:
            if merged.fresh or merged.disputed:
                page.notes.append(
                    _(
                        "“{row}” was changed meanwhile, and you ticked it to be deleted. Untick it to keep it.",
                        row=called,
                    )
                )
            return
        page.fresh += [f"{label} (“{called}”)" for label in labels_of(form, merged.fresh)]
        page.disputed += [f"{label} (“{called}”)" for label in labels_of(form, merged.disputed)]
        page.disputed_rows.setdefault(self.prefix, {})[row] = {
            name: stands_at(*(in_words(form.fields[name], sent, page.formatter) for sent in both))
            for name, both in merged.disputed.items()
        }

    def _leave_out(self, row: str, number: int) -> None:
        """A row that is gone leaves the page as well, unless something was typed into it."""
        page, deleted = self.page, self._key(number, DELETION_FIELD_NAME)
        if deleted in page.sent:
            return
        if _opened(self.prefix, row, self._sent(number)) in page.sent.get(OPENED, "").split():
            page.put(deleted, ["on"])
            page.came_or_went = True
        else:
            page.notes.append(
                _(
                    "“{row}” is gone, but you had typed into it: it stands below as a new row, "
                    "and is added again when you save.",
                    row=page.problem.name_of(self.table, row),
                )
            )

    def _add(self, row: str, form: BaseForm) -> None:
        """A row that came meanwhile stands on the page with the others."""
        page, number = self.page, self._count(TOTAL_FORM_COUNT)
        if number >= self.most:
            return  # it stays as it is all the same: a row that is not sent is not touched
        for name, texts in Version.of_form(form, only=self.names).sent.items():
            page.put(self._key(number, name), texts)
        page.put(self._key(number, self.table._meta.pk.name), [row])
        page.put(f"{self.prefix}-{TOTAL_FORM_COUNT}", [str(number + 1)])
        page.came_or_went = True

    def _sent(self, number: int) -> dict[str, Sent]:
        return sent_in(self.fields, self.page.sent, lambda name: self._key(number, name))

    def _key(self, number: int, name: str = "") -> str:
        return f"{self.prefix}-{number}-{name}"

    def _row(self, number: int) -> str:
        return str(self.page.sent.get(self._key(number, self.table._meta.pk.name), ""))

    def _count(self, name: str) -> int:
        return min(read_small_whole(str(self.page.sent.get(f"{self.prefix}-{name}", ""))) or 0, self.most)


def _as_it_was(form: Any, row: Any) -> BaseForm:
    """The form of a row as it was. The studio's own row also tells how figures were written then."""
    if not isinstance(row, Studio):
        return cast("BaseForm", form(instance=row))
    formatter, form.formatter = form.formatter, Formatter.of(row)
    try:
        return cast("BaseForm", form(instance=row))
    finally:
        form.formatter = formatter


def _typed_fields(rows: AnyRows) -> list[str]:
    """The fields of a row that people type into: not its number, nor what it belongs to."""
    hidden = {cast("type[Model]", rows.model)._meta.pk.name, rows.fk.name}
    return [name for name in rows.form.base_fields if name not in hidden]


def _opened(prefix: str, row: str, sent: Mapping[str, Sent]) -> str:
    told = "\n".join(f"{name}={tidied(texts)}" for name, texts in sorted(sent.items()))
    return f"{prefix}-{row}-{sha256(told.encode()).hexdigest()[:16]}"
