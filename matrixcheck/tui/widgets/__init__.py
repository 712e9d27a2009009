"""Small widgets, each with its own messages; none of them knows the bench."""
