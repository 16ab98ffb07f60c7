"""How large a table may be; larger ones are refused before they can fill the memory."""

from typing import Final

MOST_BYTES: Final = 256 * 1024**2
"""Of a CSV file, a workbook, and a workbook's sheet once it is unpacked."""

MOST_UNPACKED: Final = 512 * 1024**2
"""Of a workbook in all."""

MOST_PART_BYTES: Final = 32 * 1024**2
"""Of each of a workbook's parts that is neither a sheet nor its table of texts."""

MOST_PARTS: Final = 10_000
MOST_ROWS: Final = 1_048_576
MOST_COLUMNS: Final = 2_000
MOST_CELLS: Final = 100_000_000

MOST_TAGS: Final = 1_000_000
"""Of XML between the ends of two rows: what a parser holds at one time."""

LONGEST_CELL: Final = 131_072
"""Characters; the csv module's own limit, and four times what a spreadsheet's cell can hold."""

LONGEST_ROW: Final = 4 * 1024**2
"""Characters of one row of a CSV file."""
