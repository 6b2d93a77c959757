"""How material comes in: orders, deliveries and what they cost landed, and when to order again."""
