"""The arithmetic of prices, and the states of a piece: no Django."""
