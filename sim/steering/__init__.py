"""Hand wheel to wheels: a front end put together, its lock, angles and kick-back, the steer table, and that table as kernels read it."""
