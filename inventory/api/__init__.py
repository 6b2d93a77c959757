"""The shelf over JSON: one module a noun, each with what it takes, what it answers, and its addresses."""
