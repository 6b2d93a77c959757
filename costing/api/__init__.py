"""The price tag over JSON: pieces, what they cost, what they were sold for, and the price list."""
