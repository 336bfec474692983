"""Pictures as SVG text from plain numbers. Nothing here knows a store, a verdict or a page."""
