"""The arithmetic of the shelf: pure functions of whole numbers, no Django."""
