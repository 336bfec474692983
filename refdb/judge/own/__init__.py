"""What a person's own kiln, tiles and strips say."""
