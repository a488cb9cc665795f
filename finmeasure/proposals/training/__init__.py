"""Training of the proposal networks on drawn fish: needs the extra `train` and a GPU."""
