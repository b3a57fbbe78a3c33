"""Tables that people bring from a spreadsheet, pasted or as a file, read into what a garden writes down."""
