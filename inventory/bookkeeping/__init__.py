"""Reading the ledger back, proving it, and putting mistakes right."""
