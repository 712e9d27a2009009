"""What the screens write, as plain values without Textual: the place to read and test wording and layout."""
