"""One module a screen. A screen calls the bench, hands values to its widgets and answers their messages."""
