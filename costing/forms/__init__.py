"""Forms of the price tag: what is typed about pieces, sales and price lists."""
