"""Reading photo files."""
