"""What every endpoint for programs shares."""
