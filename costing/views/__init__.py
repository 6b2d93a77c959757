"""Pages of the price tag: loader, form, one call to a writer, redirect."""
