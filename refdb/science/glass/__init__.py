"""Glass from its composition."""
