"""What a piece cost, every line traced to its lot, pour and minute."""
