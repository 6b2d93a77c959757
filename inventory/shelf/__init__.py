"""What stands on the shelf: lots, what they are worth, counting them, and the ways out that are not work."""
