"""The application that serves the pages, and what guards it."""
