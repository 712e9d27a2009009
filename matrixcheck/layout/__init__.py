"""The definition of one machine: its matrices, lines, parts and cells, and how a layout file is read."""
