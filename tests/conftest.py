"""What all tests share."""

import os

# openpyxl takes lxml where it is there: the tests have it, the product does not, and is to be tested as it is.
os.environ["OPENPYXL_LXML"] = "False"
