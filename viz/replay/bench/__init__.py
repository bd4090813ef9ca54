"""The steering bench inside `watch`."""
