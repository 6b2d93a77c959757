"""Quantities, sizes and money as whole numbers: reading, showing, converting and sharing them. No Django."""
