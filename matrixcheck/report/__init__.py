"""What a job looks like away from the bench: on paper, in a spreadsheet, as data. Pure functions of its state."""
