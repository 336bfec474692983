"""Glass in the kiln: heat-up, sintering, levelling, and one coat rising through another."""
