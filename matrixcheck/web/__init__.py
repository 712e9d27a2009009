"""The browser face: the terminal screens, each page with a process of its own, on loopback or in the local network."""
