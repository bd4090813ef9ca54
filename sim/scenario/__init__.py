"""What the user wrote, checked, with units in the keys: TOML in and out, and to SI objects."""
