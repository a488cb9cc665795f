"""Tables that come from outside and go there."""
