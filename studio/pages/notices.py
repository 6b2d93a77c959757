"""Where messages for the next page are kept: where Django keeps them, in a cookie that no other host can set."""

from django.contrib.messages.storage.cookie import CookieStorage
from django.contrib.messages.storage.fallback import FallbackStorage
from django.contrib.messages.storage.session import SessionStorage


class _HostCookie(CookieStorage):
    cookie_name = "__Host-messages"


class BoundToHost(FallbackStorage):
    storage_classes = (_HostCookie, SessionStorage)
