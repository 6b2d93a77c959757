"""Pages of materials, and of suppliers with the packs they sell."""
