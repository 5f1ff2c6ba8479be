"""Life studies: how long hoses last, what recurs, and when changing them early pays."""
