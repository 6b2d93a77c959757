"""What the pages mean by the few words of stock keeping and bookkeeping that they use."""
