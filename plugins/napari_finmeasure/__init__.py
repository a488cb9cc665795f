"""The napari plugin of finmeasure: a thin view over the core."""
