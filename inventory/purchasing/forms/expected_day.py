"""In how many days an order may be expected: what the supplier's deliveries have taught, or what it states."""

from datetime import date

from inventory.materials.models import Supplier
from inventory.purchasing.incoming import arrivals
from inventory.reordering.history import LeadTimes
from studio.preferences.models import Studio


def usual_days(supplier: Supplier, studio: Studio, *, on: date) -> int:
    """Days from order to delivery, rounded half up; those until somebody looks what to order do not count."""
    learned = LeadTimes(on, studio, arrivals()).of(supplier).mean
    waiting = (studio.days_between_orders - 1) / 2
    return max(int(learned - waiting + 0.5), 0)
