"""Between the app and a terminal: whatever comes in and wherever it goes, a pour goes on."""
