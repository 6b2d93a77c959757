"""The words of the glossary about ordering, what runs low, and being told in time."""

from django.utils.translation import gettext_lazy, pgettext_lazy

from studio.pages.glossary.terms import Word

ORDERING = (
    Word(
        "reorder-level",
        pgettext_lazy("glossary", "Reorder level"),
        gettext_lazy(
            "When stock and what is on order, less what plans reserve, fall to this amount, it is time to order: "
            "it should last until the delivery arrives. It is calculated from your own use and from how long "
            "deliveries have taken; the service level says how often it must hold."
        ),
        gettext_lazy(
            "At 95%, 19 deliveries in 20 arrive before you run out. Large sessions and late deliveries of the last two "
            "years are counted."
        ),
    ),
    Word(
        "shopping-list",
        pgettext_lazy("glossary", "Shopping list"),
        gettext_lazy(
            "Everything to buy: what is low, what plans are short of, and what was added by hand, with the packs and "
            "suppliers that cost least for all of it together."
        ),
        gettext_lazy(
            "A paint that is not low yet may be on it, because it will be due within four weeks and costs less in the "
            "same order."
        ),
    ),
    Word(
        "price-break",
        pgettext_lazy("glossary", "Price break"),
        gettext_lazy("A lower price for each pack when more of them are bought at once."),
        gettext_lazy("One tub costs 18; from six, each costs 16."),
    ),
    Word(
        "economic-order",
        pgettext_lazy("glossary", "Economic order quantity"),
        gettext_lazy(
            "How much to order at a time so that a year's carriage and a year's cost of holding stock are least "
            "together. Larger orders save carriage, smaller ones keep less money on the shelf."
        ),
        gettext_lazy(
            "With 4 L used in a year at 18 a litre, and 6 of carriage, seven packs of 500 mL at a time."
        ),
    ),
    Word(
        "alert",
        pgettext_lazy("glossary", "Alert"),
        gettext_lazy(
            "Something that needs your attention, with its reason in figures: one for each reason, which clears by "
            "itself when the reason is gone. Acknowledge it to keep it quiet until then, snooze it to a day, or place "
            "an order that covers it."
        ),
        gettext_lazy(
            "You acknowledge that L0012 is near its date. When the date has passed, that is a reason of its own, and "
            "you are told again."
        ),
    ),
    Word(
        "daily-email",
        pgettext_lazy("glossary", "Daily email"),
        gettext_lazy(
            "One email a day with the alerts that are new since the last one, in your own language. On days without "
            "anything new, and on the days without email that the settings name, none is sent."
        ),
    ),
    Word(
        "calendar-address",
        pgettext_lazy("glossary", "Calendar address"),
        gettext_lazy(
            "A secret address of your own, which the calendar app on your phone reads: plans, deliveries due, when "
            "pieces are dry, and use-by dates, without prices. Get a new one whenever you like; the old one then stops "
            "working."
        ),
    ),
    Word(
        "service-level",
        pgettext_lazy("glossary", "Service level"),
        gettext_lazy(
            "How many deliveries in a hundred should arrive before you run out. More takes more stock: set it in the "
            "settings, higher for vital materials, and for one material on its page."
        ),
    ),
    Word(
        "lead-time",
        pgettext_lazy("glossary", "Lead time"),
        gettext_lazy("The days from an order to its delivery. Each supplier has its own, set on its page."),
    ),
    Word(
        "safety-stock",
        pgettext_lazy("glossary", "Safety stock"),
        gettext_lazy(
            "Some extra for a busy month or a late delivery. Set your own to order at average use over the lead time "
            "and that much; leave it blank to have the whole level calculated."
        ),
    ),
    Word(
        "cover",
        pgettext_lazy("glossary", "Lasts until (cover)"),
        gettext_lazy("How long your stock lasts if you keep using it at the same rate."),
        gettext_lazy("300 mL at 10 mL a day lasts 30 days."),
    ),
    Word(
        "reserve",
        pgettext_lazy("glossary", "Extra paint"),
        gettext_lazy("Paint planned on top of what a set should need, so that no cup runs short."),
        # xgettext:no-python-format for its % is a word
        gettext_lazy("500 mL and 10% extra paint: 550 mL is mixed."),
    ),
)
