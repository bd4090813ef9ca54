"""Steady turns: slipping (equilibrium) and rolling (least loss), maps of them, a lap as their sum."""
