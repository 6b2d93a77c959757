"""Print the use by day of every bought material, a line each, as the database has it."""

from django.utils import timezone

from inventory.reordering.history import daily_use
from inventory.reordering.queries import levels
from inventory.stock.queries import usable_and_expired


def main() -> None:
    today = timezone.localdate()
    bought = [level.material.pk for level in levels(today)]
    usable, expired = usable_and_expired(today, bought)
    for _material, series in daily_use(today, bought, stock=usable + expired):
        print(*series.values())


if __name__ == "__main__":
    main()
