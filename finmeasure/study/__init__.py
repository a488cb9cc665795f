"""The study: everything that was recorded, in one folder and one database."""
