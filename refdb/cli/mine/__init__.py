"""The group of commands `mine`: a person's own jars, metals, tiles, strips and kiln."""
