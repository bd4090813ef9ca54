"""The hand torque of a steady turn in words."""

from collections.abc import Mapping

LAW_WORDS = {"linear": "tyres that never give way", "brush": "tyres that give way as they slip"}


def torque_by_law(torques: Mapping[str, float | None]) -> str:
    """The hand torque of a turn by both laws of the tyre in words.  torques : by law [N m]; None where it has no such turn."""
    return ", ".join(
        f"{'no such turn' if torque is None else f'{torque:+z.2f} N m'} with {LAW_WORDS[law]} ({law})" for law, torque in torques.items()
    )
