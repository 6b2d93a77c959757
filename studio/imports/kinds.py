"""What can be imported: each room describes its kinds, and registers them when the app starts."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Protocol

from studio.accounts.models import Role, User
from studio.accounts.roles import OWNER_ONLY
from studio.imports.cells import Cells
from studio.imports.headings import Wanted
from studio.imports.reading import Line
from studio.preferences.formatting import Formatter
from studio.preferences.models import Studio
from studio.submission import Submission

if TYPE_CHECKING:
    from django.utils.functional import _StrOrPromise


@dataclass(frozen=True, slots=True)
class ImportColumn:
    """A column of a table to import. `names` are what headings may call it besides its label, in either language.

    A heading that names two columns means the one that holds days (`is_day`) where days stand below it. A required
    column may be lacking where `instead`, the key of another, is there.
    """

    key: str
    label: "_StrOrPromise"
    names: Sequence[str] = ()
    help: "_StrOrPromise" = ""
    required: bool = False
    is_money: bool = False
    is_day: bool = False
    instead: str = ""

    @property
    def wanted(self) -> Wanted:
        return Wanted(self.key, [str(self.label), *self.names], self.is_day)


Made = tuple[str, str]  # what a row became, in words, and the address of its page


class RowReader(Protocol):
    """Reads and saves the rows of one table, knowing what the rows above it bring."""

    def read(self, cells: Cells) -> Any:
        """The row's facts, which checked themselves. Raises InputError naming each column (its key)."""

    def is_there(self, facts: Any) -> bool:
        """Whether exactly this is recorded already, so that saving it would add nothing."""

    def words(self, facts: Any, formatter: Formatter) -> Mapping[str, str]:
        """How cells were understood, by the keys of their columns, where that differs from what was typed."""

    def save(self, facts: Any, submission: Submission) -> Made | None:
        """Save it through the actions of its room, and say what is to be listed of it afterwards, if anything.

        Raises MeniscusError, having written nothing.
        """

    def keep(self, facts: Any) -> None:
        """Know it from now on: it was saved, or would be."""


@dataclass(frozen=True, slots=True)
class TableKind:
    """What a table may hold: its columns, and the code under which its headings are remembered.

    `meanings` tells from a table's lines what plain headings mean because of what stands around them; `gather` makes
    one line of several rows that are about one thing, once it is known what each column means.
    """

    code: str
    columns: Sequence[ImportColumn]
    meanings: Callable[[Sequence[Line]], Mapping[str, str]] | None = field(default=None, kw_only=True)
    gather: Callable[[Sequence[Line], Sequence[str]], list[Line]] | None = field(default=None, kw_only=True)

    @property
    def labels(self) -> dict[str, str]:
        return {column.key: str(column.label) for column in self.columns}

    @property
    def unexplained(self) -> str:
        """Labels of the columns that say enough by their names."""
        labels = [str(each.label) for each in self.columns if not each.help]
        return " · ".join(labels)


@dataclass(frozen=True, slots=True)
class ImportKind(TableKind):
    """One kind of table that can be imported: who may, its columns, an example, and what reads and saves its rows."""

    title: "_StrOrPromise"
    lead: "_StrOrPromise"
    reader: Callable[..., RowReader]  # of the studio and the day; with `can_add`, also may_add and add_new
    example: Callable[[Studio], Sequence[Mapping[str, Any]]]  # cells by the keys of their columns
    list_url: str  # the name of the page that lists what was imported
    recorded: Callable[[Studio], Sequence[Mapping[str, Any]]] | None = (
        None  # what there is, as rows of such a table
    )
    made_heading: "_StrOrPromise" = ""  # over what `save` says is to be listed
    can_add: bool = False  # materials that its rows name, which then only an owner may add
    roles: Sequence[Role] = field(default=OWNER_ONLY)
    needs_money: bool = False

    @property
    def url_name(self) -> str:
        """The name of its page's address."""
        return f"import-{self.code}"

    def allows(self, user: User) -> bool:
        """Whether this person may import it: who may save the single thing."""
        return user.role in self.roles and (user.sees_money or not self.needs_money)


@dataclass(frozen=True, slots=True)
class OtherPage:
    """A page of a room's own that imports something as a whole, to be found among the imports."""

    url_name: str
    title: "_StrOrPromise"
    lead: "_StrOrPromise"
    roles: Sequence[Role]
    needs_money: bool

    def allows(self, user: User) -> bool:
        return user.role in self.roles and (user.sees_money or not self.needs_money)


_KINDS: dict[str, ImportKind] = {}
_PAGES: dict[str, OtherPage] = {}


def register(*kinds: ImportKind) -> None:
    """Add kinds to what can be imported, in this order."""
    _KINDS.update({kind.code: kind for kind in kinds})


def register_page(page: OtherPage) -> None:
    """Link to another page that imports."""
    _PAGES[page.url_name] = page


def pages_for(user: User) -> list[OtherPage]:
    """The other pages that this person may use."""
    return [page for page in _PAGES.values() if page.allows(user)]


def every_kind() -> list[ImportKind]:
    """Everything that can be imported."""
    return list(_KINDS.values())


def kinds_for(user: User) -> list[ImportKind]:
    """What this person may import."""
    return [kind for kind in _KINDS.values() if kind.allows(user)]


def kind_named(code: str) -> ImportKind:
    """The kind of a code. Raises KeyError for none."""
    return _KINDS[code]
