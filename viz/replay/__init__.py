"""`watch`: player, scene, pens, window and export."""
