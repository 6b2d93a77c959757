"""Somebody with codes on: the keeper, her phone, and the sheet with her recovery codes."""

import pytest
from django.test import Client

from studio.accounts.models import Role, User
from tests.studio.accounts.two_factor.phones import PASSWORD, Phone, switched_on


@pytest.fixture
def phone(monkeypatch: pytest.MonkeyPatch) -> Phone:
    return Phone(monkeypatch)


@pytest.fixture
def keeper(db: None) -> User:
    return User.objects.create_user("keeper", password=PASSWORD, role=Role.OWNER)


@pytest.fixture
def signed(keeper: User) -> Client:
    """A browser that the keeper is signed in with."""
    client = Client()
    client.force_login(keeper)
    return client


@pytest.fixture
def sheet(signed: Client, keeper: User, phone: Phone) -> list[str]:
    """The keeper's recovery codes; her codes were just switched on in the browser `signed`."""
    return switched_on(signed, keeper, phone)
