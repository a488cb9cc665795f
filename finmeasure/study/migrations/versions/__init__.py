"""One module per released schema."""
