"""Changing single values of a layout's TOML text, with comments and order kept."""
