"""What a person writes down of their own tests: read as it is typed, checked, and made into rows of the workshop."""
