"""The program finds the fish, its fins and its landmarks, and knows when it does not know."""
