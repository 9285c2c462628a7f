"""Papers: record, report, charts, calendar and spreadsheets of a batch."""
