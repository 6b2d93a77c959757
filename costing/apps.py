"""The price tag's app."""

from django.apps import AppConfig
from django.utils.translation import gettext_lazy


class CostingConfig(AppConfig):
    name = "costing"
    verbose_name = gettext_lazy("Pieces and prices")
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        from costing import navigation
        from costing.cost_sheets.actions import keep_rates
        from costing.cost_sheets.book_checks import check_cost_sheets, check_outcomes
        from costing.home import first_steps
        from costing.pieces.actions import steps
        from costing.pieces.actions.outcomes import piece_against
        from costing.pieces.actions.pieces import pieces_made_of, pieces_upon
        from costing.pieces.queries import names_by_pour
        from inventory.ledger import book_checks, effects, reversal_guards
        from inventory.sessions.actions import corrections, pours
        from studio.api.schema import name_choices
        from studio.preferences.context import on_every_page

        reversal_guards.register(pieces_upon)
        steps.when_it_leaves(keep_rates)
        corrections.register_guard(pieces_made_of)
        effects.register_names_of_pours(names_by_pour)
        pours.register_guard(piece_against)
        book_checks.register(check_cost_sheets)
        book_checks.register(check_outcomes)
        navigation.register_entries()
        on_every_page(first_steps.for_pages)
        name_choices(PieceState="costing.pieces.models.PieceState")
