"""Links from a page to the words that it uses, on the page of words."""

from django import template

from studio.pages.glossary.views import explained

register = template.Library()
# {% what_is "lot" %} → a small link, What is this?, to the word's place; an unknown word raises KeyError.
register.simple_tag(explained, name="what_is")
