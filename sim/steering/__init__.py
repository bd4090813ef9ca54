"""Hand wheel to wheels: kingpins, linkages, lock, the steer table, and that table as kernels read it."""
