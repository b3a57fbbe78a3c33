"""What a crop asks for: how many seeds and cells, how long a season, how good a seed lot."""
