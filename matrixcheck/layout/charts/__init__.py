"""Charts as manuals print them: read into a layout, and printed from one."""
