"""A centreline with curvature and slope by station, from a file or from written segments."""
