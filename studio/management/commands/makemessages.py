"""Gather every text that people read: Django's own command, told about our way of marking a text for later."""

from django.core.management.commands import makemessages


class Command(makemessages.Command):
    xgettext_options = [*makemessages.Command.xgettext_options, "--keyword=noop"]
