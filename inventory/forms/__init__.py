"""Forms of the shelf's pages: they read what was typed; the rules stand in the writers."""
