"""Looking back on a season: what was foreseen beside what was written down."""
