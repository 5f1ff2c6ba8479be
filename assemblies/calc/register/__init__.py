"""A register of hoses, understood: its header, its columns, its questions, its rows."""
