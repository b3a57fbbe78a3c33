"""What there is to do: week by week, grower by grower, round by round, and where something went wrong."""
