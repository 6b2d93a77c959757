"""Groups of people, as the tables of addresses name them."""

NOBODY, EVERYONE = "", "OTHB"  # owner, helper trusted with money, helper, bookkeeper
WORKERS, WORKERS_WITH_MONEY = "OTH", "OT"
WHO_SEES_MONEY, READERS, OWNER = "OTB", "OB", "O"
ANYBODY = "anybody, signed in or not"
