"""`template`: scale, pages, true-size paper and words."""
