"""Arms and rods: how the hand wheel swings the front wheels, a file each."""
