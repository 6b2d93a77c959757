"""Alerts follow what plans reserve and what the settings ask for: raised and cleared without anybody looking."""

import pytest
from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction

from inventory.alerts.models import Alert
from inventory.materials.models import Material
from inventory.plans.actions import PlanFacts, facts_of, save_plan
from inventory.plans.models import Plan
from inventory.reordering.queries import levels
from studio.preferences.models import Studio
from tests.days import AT, DAY, TODAY
from tests.making import (
    make_material,
    make_opening,
    make_plan,
    make_submission,
    make_surface,
    planned_line,
    units,
)

pytestmark = pytest.mark.django_db(transaction=True)


def open_for(material: Material) -> int:
    return Alert.objects.filter(material=material, cleared_at__isnull=True).count()


def test_a_plan_raises_the_alert_of_what_it_leaves_short_and_takes_it_along() -> None:
    paint, board = make_material(reorder_level=units(450)), make_surface()
    make_opening(lines=[(paint, units(500), 0), (board, units(10), 0)], on=TODAY - 9 * DAY)
    assert open_for(paint) == 0
    plan = make_plan(planned_line(board, 2, paint), on=TODAY)
    assert open_for(paint) == 1
    plan = Plan.objects.with_lines().get(pk=plan.pk)
    later = PlanFacts(plan.name, TODAY + 90 * DAY, facts_of(plan).lines)
    save_plan(facts=later, submission=make_submission(at=AT), plan=plan)
    assert open_for(paint) == 0
    save_plan(facts=facts_of(plan, on=TODAY), submission=make_submission(at=AT), plan=plan)
    assert open_for(paint) == 1
    Plan.objects.get(pk=plan.pk).delete()
    assert open_for(paint) == 0


def test_alerts_follow_the_service_level_of_the_settings() -> None:
    """A month's use is expected of something new: enough for a middling promise, too little for a high one."""
    paint = make_material(guessed_use=units(300))
    level = levels(TODAY, materials=[paint.pk])[0]
    assert level.use is not None
    make_opening(lines=[(paint, level.use.level(0.9), 0)])
    assert open_for(paint) == 1  # at 95%
    studio = Studio.current()
    studio.service_level = 800_000
    studio.save()
    assert open_for(paint) == 0


@pytest.mark.parametrize("share", [499_999, 999_001, -1, 10**12])
def test_nobody_can_promise_more_than_the_rules_allow(share: int) -> None:
    studio, material = Studio.current(), make_material()
    studio.vital_service_level = material.service_level = share
    for row in (studio, material):
        with pytest.raises(ValidationError, match="at least 50% and at most 999"):
            row.full_clean()
        with pytest.raises(IntegrityError), transaction.atomic():
            row.save()
