"""Settings of a shop: ``load_shop(folder) -> Shop``."""
