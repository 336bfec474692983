"""The tables behind the pages, in the words of the house."""
