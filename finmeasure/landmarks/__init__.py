"""Landmarks, body forms and questions as data files, and the tables that carry marks."""
