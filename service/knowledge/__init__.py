"""The knowledge table: cited figures in TOML files, and the strict loader that proves them."""
