"""The work at the bench: recipes, cups, mixes, sessions and pours, and whether the shelf suffices for them."""
