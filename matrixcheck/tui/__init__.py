"""The terminal screens. They draw what the bench says and pass on what a person does, and hold no rule."""
