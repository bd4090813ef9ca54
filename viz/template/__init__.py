"""`template`: plan, scale, pages, true-size paper and words."""
