"""Stored figures as people see them: `refdb.records_print` under the name the commands use."""

from refdb.records_print import SCALES, degrees, number_of, range_of, short_range, span_of, sure, unit_of, unit_words

__all__ = ["SCALES", "degrees", "number_of", "range_of", "short_range", "span_of", "sure", "unit_of", "unit_words"]
