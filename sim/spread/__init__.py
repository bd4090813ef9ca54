"""Unsure inputs, drawn; intervals and shares."""
