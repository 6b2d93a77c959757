"""Putting a session right, for programs: what would change, and the correction itself."""

from dataclasses import replace
from typing import Any

from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from inventory.ledger.api import EffectResponse, effect_rows
from inventory.recipes.models import Mix
from inventory.sessions.actions.corrections import correct_session, preview_correction
from inventory.sessions.api.sessions import (
    MOST_MIXES,
    MOST_POURS,
    PourRequest,
    SessionMixRequest,
    SessionRequest,
    SessionViewSet,
)
from inventory.sessions.models import Pour, Session
from studio.api.fields import MoneyResponseField, RowField
from studio.api.serializers import ListOf, ResponseSerializer
from studio.api.viewsets import row_action


class CorrectedMixRequest(SessionMixRequest):
    """A mix as it really was; `id` is the recorded one that it corrects, and without it one is added."""

    id = RowField(Mix.objects.select_related("lot"), required=False)

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        mix = attrs.pop("id", None)
        validated = super().validate(attrs)
        return validated | {"facts": replace(validated["facts"], mix=mix)}


class CorrectedPourRequest(PourRequest):
    """A pour as it really was; `id` is the recorded one that it corrects, and without it one is added."""

    id = RowField(Pour.objects.select_related("surface", "over"), required=False)

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        pour = attrs.pop("id", None)
        return super().validate(attrs) | {"pour": pour}


class SessionCorrectionRequest(SessionRequest):
    """A session as it should have been logged, whole: a mix or pour that is left out never was."""

    mixes = ListOf(child=CorrectedMixRequest(), required=False, default=list, max_length=MOST_MIXES)
    pours = ListOf(child=CorrectedPourRequest(), required=False, default=list, max_length=MOST_POURS)
    plan = None  # type: ignore[assignment]  # whichever plan the session was logged from stays its own
    reason = serializers.CharField(max_length=300, help_text="For the ledger.")

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        reason = attrs.pop("reason")
        validated = super().validate(attrs)
        del validated["plan"]
        return validated | {"note": reason}


class WorkChangeResponse(ResponseSerializer):
    """The labour and overhead in one piece, before and after."""

    piece = serializers.IntegerField()
    name = serializers.CharField()
    money_before = MoneyResponseField()
    money_after = MoneyResponseField()


class SessionCorrectionPreviewResponse(ResponseSerializer):
    """Every account that a correction would change, and every piece whose labour or overhead it would."""

    effects = EffectResponse(many=True)
    work = WorkChangeResponse(many=True)


class CorrectableSessionViewSet(SessionViewSet):
    """Sessions, newest first."""

    @action(detail=True, methods=["post"], has_key=True, request_serializer_class=SessionCorrectionRequest)
    def corrections(self, request: Request, pk: int) -> Response:
        """Put a session right by one visible posting that follows its paint; answers with it as corrected."""
        session: Session = self.get_object()

        def act(body: dict[str, Any]) -> Session:
            return correct_session(session=session, submission=self.submission(on=session.held_on), **body)

        return self.post_once(act)

    @row_action(
        has_key=False,
        url_path="corrections/preview",
        request_serializer_class=SessionCorrectionRequest,
        detail_serializer_class=SessionCorrectionPreviewResponse,
    )
    def preview(self, request: Request, pk: int) -> Response:
        """What a correction would change, account by account, before and after. Nothing of it stays."""
        session, body = self.get_object(), self.read_body()
        shown = preview_correction(session=session, submission=self.submission(on=session.held_on), **body)
        answer = {"effects": effect_rows(shown.effects), "work": shown.work}
        return Response(self.get_serializer(answer).data)
