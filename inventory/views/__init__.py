"""Pages of the shelf: loader, form, one call to a writer, redirect."""
