"""The answers of the page, a module for each screen: it reads or records through a bench, in a worker thread."""
