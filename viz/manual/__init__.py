"""The manual's pages and pictures."""
