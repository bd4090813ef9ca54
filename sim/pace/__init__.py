"""How fast: the pace plan, pace policies, the driver, and the road as kernels read it."""
