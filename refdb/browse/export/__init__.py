"""The pages that need no question worked out, written as files that any web host serves."""
