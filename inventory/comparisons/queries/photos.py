"""Photos of the compared pours, wet and dry, as wide beside one another as their surfaces are."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from inventory.comparisons.models import ComparedPour, Comparison
from inventory.sessions.models import SessionPhoto, Stage
from studio.translation import _

WIDEST = 240  # pixels of the largest surface


@dataclass(frozen=True, slots=True)
class ArmPhoto:
    """One photo; `width` in pixels is in proportion to the surface, which should fill the photo."""

    photo: SessionPhoto
    compared: ComparedPour
    label: str
    width: int

    @property
    def key(self) -> str:
        return photo_key(self.photo)


@dataclass(frozen=True, slots=True)
class PhotoRow:
    """The photos of one arm at one stage, or of all pours by their codes while the arms are hidden."""

    stage: Stage
    heading: str
    photos: list[ArmPhoto]


def photo_rows(comparison: Comparison) -> list[PhotoRow]:
    """Photos by stage and arm; by code in the order of scoring while nobody may know the arms. Three queries."""
    pours = list(comparison.pours.select_related("arm", "pour__surface"))
    photos = (
        SessionPhoto.objects.filter(pours__in=[each.pour_id for each in pours])
        .distinct()
        .prefetch_related("pours")
    )
    shown: dict[tuple[str, int], list[SessionPhoto]] = {}
    for photo in photos:
        for pour in photo.pours.all():
            shown.setdefault((photo.stage, pour.pk), []).append(photo)
    widest = max((each.pour.surface.width or 0 for each in pours), default=0) or 1
    rows = []
    for stage in comparison.stages:
        for heading, held in _groups(comparison, pours, stage):
            row = [
                ArmPhoto(
                    photo,
                    each,
                    _label(comparison, each, stage),
                    WIDEST * (each.pour.surface.width or widest) // widest,
                )
                for each in held
                for photo in shown.get((stage.value, each.pour_id), ())
            ]
            if row:
                rows.append(PhotoRow(stage, heading, row))
    return rows


def _groups(
    comparison: Comparison, pours: Sequence[ComparedPour], stage: Stage
) -> list[tuple[str, list[ComparedPour]]]:
    if not comparison.shows_arms:
        return [(_("By code"), sorted(pours, key=lambda each: each.turn(stage)))]
    arms: dict[int, tuple[str, list[ComparedPour]]] = {}
    for each in sorted(pours, key=lambda each: each.arm.number):
        arms.setdefault(each.arm_id, (each.arm.name, []))[1].append(each)
    return list(arms.values())


def _label(comparison: Comparison, compared: ComparedPour, stage: Stage) -> str:
    return compared.pour.label if comparison.shows_arms else compared.code(stage)


def photos_of(compared: ComparedPour, stage: str) -> list[SessionPhoto]:
    """The photos to score one pour by: those that show it alone, at this stage."""
    photos = compared.pour.photos.filter(stage=stage).prefetch_related("pours")
    return [photo for photo in photos if len(photo.pours.all()) == 1]


def photo_key(photo: SessionPhoto) -> str:
    """The random name under which a photo is kept: an address with it tells nothing of session, pour or arm."""
    return Path(photo.photo.name or "").stem


def photo_of(compared: ComparedPour, key: str) -> SessionPhoto | None:
    """The photo of a compared pour that goes by this name; its first one for no name."""
    photos: list[SessionPhoto] = list(compared.pour.photos.all())
    return next((photo for photo in photos if key in ("", photo_key(photo))), None)
