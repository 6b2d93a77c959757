"""Prices, price lists, sales and the other ways out."""
