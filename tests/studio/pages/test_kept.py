"""A part of a page that is worked out once and shown twice."""

import pytest
from django.template import Context, Template, TemplateSyntaxError


def shown(text: str, **context: object) -> str:
    return Template("{% load kept %}" + text).render(Context(context))


def test_what_is_kept_is_worked_out_once_and_shown_where_it_is_named() -> None:
    asked: list[int] = []

    def name() -> str:
        asked.append(1)
        return "Moss & Fern"

    words = shown("{% kept as label %}<b>{{ name }}</b>{% endkept %}1 {{ label }} 2 {{ label }}", name=name)
    assert words == "1 <b>Moss &amp; Fern</b> 2 <b>Moss &amp; Fern</b>"
    assert len(asked) == 1


@pytest.mark.parametrize("wrong", ["{% kept %}", "{% kept label %}", "{% kept in label %}", "{% kept as %}"])
def test_anything_but_a_name_to_keep_it_under_is_refused(wrong: str) -> None:
    with pytest.raises(TemplateSyntaxError, match="kept as NAME"):
        shown(wrong + "{% endkept %}")
