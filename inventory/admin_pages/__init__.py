"""Settings pages of the shelf, one module a noun."""
