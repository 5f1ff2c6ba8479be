"""The manager's report: gathered once, shown as page, paper and workbook."""
