"""The page for a phone: plain HTML from templates, small scripts that need no build step, and events as they happen."""
