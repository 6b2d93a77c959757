"""What helps to read a page: links to its words on the page of words, squares of colour, drawn levels."""

from django import template

from studio.pages.beakers import beaker
from studio.pages.frame import icon
from studio.pages.glossary.views import explained, term_mark
from studio.pages.swatches import swatch

register = template.Library()
# {% what_is "lot" %} → a small link, What is this?, to the word's place; an unknown word raises KeyError.
register.simple_tag(explained, name="what_is")
# {% swatch material.colour %} → the square before a name; nothing without a colour.
register.simple_tag(swatch)
# {% term_mark "lot" %} → a question mark that leads there, for headings and labels with little room.
register.simple_tag(term_mark)
# {% beaker 60 "620 mL" mark=33 size="large" %} → how much is left, drawn beside its words.
register.simple_tag(beaker)
# {% draw_icon "search" %} → the icon, always beside a word.
register.simple_tag(icon, name="draw_icon")
