"""What helps to read a page: links to the words that it uses, on the page of words, and squares of colour."""

from django import template

from studio.pages.glossary.views import explained, term_mark
from studio.pages.swatches import swatch

register = template.Library()
# {% what_is "lot" %} → a small link, What is this?, to the word's place; an unknown word raises KeyError.
register.simple_tag(explained, name="what_is")
# {% swatch material.colour %} → the square before a name; nothing without a colour.
register.simple_tag(swatch)
# {% term_mark "lot" %} → a question mark that leads there, for headings and labels with little room.
register.simple_tag(term_mark)
