"""What building a front end needs: rod lengths and turns from fully home, lock nuts, stops, and the pull that turns a kingpin."""
