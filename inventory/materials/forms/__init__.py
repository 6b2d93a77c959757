"""Forms of materials, suppliers and packs: they read what was typed into the facts of the actions."""
